// Says of a recording's figures of holds that they are not yet what the whole of it gives; nothing where they are.

import type { ListedRecording } from '../../src/sessions/found-recordings.ts';
import { useApp } from '../app/app-context.ts';
import './figures-mark.css';

export function FiguresMark({ figuresBy }: Pick<ListedRecording, 'figuresBy'>) {
  const words = useApp().text.list.figuresBy;
  if (figuresBy === 'analysis') return null;
  const why = words[`${figuresBy}Why`];
  return (
    <>
      {' '}
      <small class="figures-mark" title={why}>
        {words[figuresBy]}
        <span class="visually-hidden">: {why}</span>
      </small>
    </>
  );
}
