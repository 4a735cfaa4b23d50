// Style sheets are imported for their effect; Vite turns them into one file.
declare module '*.css';
// A file's text as it lies there: the example that ships with the page.
declare module '*?raw' {
  const text: string;
  export default text;
}
