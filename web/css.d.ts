// Style sheets are imported for their effect; Vite turns them into one file.
declare module '*.css';
