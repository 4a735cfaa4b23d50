// Saving what is shown as a picture: PNG or SVG, the name only where somebody ticks it.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { Tick } from '../../components/tick.tsx';

export interface SavePictureProps {
  readonly simulated: boolean;
  readonly fileName: string;
  readonly onClose: () => void;
  /** The SVG, with the athlete's name or without. */
  readonly draw: (withName: boolean) => string;
}

export function SavePicture({ simulated, fileName, onClose, draw }: SavePictureProps) {
  const { text } = useApp();
  const words = text.traces.picture;
  const withName = useSignal(false);
  const problem = useSignal<string | null>(null);
  const svg = draw(withName.value);
  const save = async (kind: 'svg' | 'png') => {
    problem.value = null;
    const blob = kind === 'svg' ? new Blob([svg], { type: 'image/svg+xml' }) : await pngOf(svg);
    if (blob === null) problem.value = words.failed;
    else download(blob, `${fileName}.${kind}`);
  };
  return (
    <Dialog
      title={words.title}
      onClose={onClose}
      actions={
        <>
          <button type="button" class="button" onClick={() => void save('svg')}>
            {words.svg}
          </button>
          <button type="button" class="button button--primary" onClick={() => void save('png')}>
            {words.png}
          </button>
        </>
      }
    >
      <p>{simulated ? words.leadSimulated : words.lead}</p>
      <Tick checked={withName.value} onChange={(on) => (withName.value = on)}>
        {words.withName}
      </Tick>
      <ProblemNotice problem={problem.value} />
      <img class="picture-preview" src={addressOf(svg)} alt={words.preview} />
    </Dialog>
  );
}

/** As an address that the page's content security policy lets images have. */
const addressOf = (svg: string): string => `data:image/svg+xml;charset=utf-8,${encodeURIComponent(svg)}`;

/** Twice as large, so that it stays sharp when printed. Null where the browser cannot. */
async function pngOf(svg: string): Promise<Blob | null> {
  const image = new Image();
  image.src = addressOf(svg);
  try {
    await image.decode();
  } catch {
    return null;
  }
  const canvas = document.createElement('canvas');
  canvas.width = 2 * image.naturalWidth;
  canvas.height = 2 * image.naturalHeight;
  const context = canvas.getContext('2d');
  if (context === null) return null;
  context.drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve) => canvas.toBlob(resolve, 'image/png'));
}

function download(blob: Blob, fileName: string): void {
  const address = URL.createObjectURL(blob);
  const link = document.createElement('a');
  link.href = address;
  link.download = fileName;
  link.click();
  URL.revokeObjectURL(address);
}
