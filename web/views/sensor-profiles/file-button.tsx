// A button that lets a person pick a text file and hands its text on.

export interface FileButtonProps {
  readonly label: string;
  readonly accept: string;
  readonly onText: (content: string, name: string) => void;
}

export function FileButton({ label, accept, onText }: FileButtonProps) {
  return (
    <label class="button profile-file">
      <span>{label}</span>
      <input
        type="file"
        accept={accept}
        onChange={(event) => {
          const input = event.currentTarget;
          const file = input.files?.[0];
          if (file !== undefined)
            void file.text().then((content) => {
              onText(content, file.name);
              // The same file can be opened again.
              input.value = '';
            });
        }}
      />
    </label>
  );
}
