// A plan in the library: saved, copied, taken as a file, removed, printed.

import { useApp } from '../../app/app-context.ts';

export interface PlanFilesProps {
  /** Null where it is not in the library. */
  readonly planId: string | null;
  readonly onSave: (asCopy: boolean) => void;
  readonly onRemove: (planId: string) => void;
}

export function PlanFiles({ planId, onSave, onRemove }: PlanFilesProps) {
  const { text, http } = useApp();
  const words = text.plans;
  return (
    <div class="button-row no-print">
      <button type="button" class="button" onClick={() => onSave(false)}>
        {words.save}
      </button>
      {planId === null ? null : (
        <>
          <button type="button" class="button" onClick={() => onSave(true)}>
            {words.saveCopy}
          </button>
          <a class="button" href={http.planFilePath(planId)} download>
            {words.download}
          </a>
          <button type="button" class="button" onClick={() => onRemove(planId)}>
            {words.remove}
          </button>
        </>
      )}
      <button type="button" class="button" onClick={() => print()}>
        {words.print}
      </button>
    </div>
  );
}
