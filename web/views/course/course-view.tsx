// What a course keeps beside its recordings: consent and fitness, the emergency card, alarm drills, incidents.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Participant } from '../../../shared/course.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { EmergencyCardText } from '../../components/emergency-card.tsx';
import { HelpLink } from '../../components/help-link.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { CardForm } from './card-form.tsx';
import { Drills } from './drills.tsx';
import { Incidents } from './incidents.tsx';
import { Roster } from './roster.tsx';
import './course.css';

const lists = ['participants', 'drills', 'incidents'] as const;

export function CourseView() {
  const { text, hub, http } = useApp();
  const words = text.course.papers;
  useDocumentTitle(words.title);
  const participants = useSignal<readonly Participant[]>([]);
  const problem = useSignal<string | null>(null);
  const live = hub.link.value === 'live';
  const { value: role } = hub.role;
  const ask = useInOrder();
  const load = async () => {
    if (role === 'onlooker') return;
    const isNews = ask();
    const answer = await http.course.participants();
    if (!isNews()) return;
    problem.value = answer.ok ? null : answer.reason;
    if (answer.ok) participants.value = answer.value.participants;
  };
  useEffect(() => {
    if (live) void load();
  }, [live, role]);
  const card = hub.emergencyCard.value;
  return (
    <article class="sheet course">
      <h1>{words.title}</h1>
      <HelpLink chapter="course" label={text.help.toCourse} />
      <ProblemNotice problem={problem.value} />
      {role === 'coach' ? (
        <a class="button course-people" href="/people">
          {text.course.people.title}
        </a>
      ) : null}
      {role === 'onlooker' ? null : (
        <section class="step">
          <h2>{words.roster}</h2>
          <p class="hint">{words.rosterHelp}</p>
          <Roster participants={participants.value} onChanged={load} />
        </section>
      )}
      <section class="step">
        <h2>{words.card}</h2>
        <p class="hint">{words.cardHelp}</p>
        {role === 'coach' ? (
          <CardForm card={card} />
        ) : card === null ? (
          <p>{words.cardNone}</p>
        ) : (
          <EmergencyCardText card={card} />
        )}
      </section>
      {role === 'coach' ? (
        <>
          <section class="step">
            <h2>{words.drill}</h2>
            <p class="hint">{words.drillHelp}</p>
            <Drills />
          </section>
          <section class="step">
            <h2>{words.incidents}</h2>
            <p class="hint">{words.incidentsHelp}</p>
            <Incidents people={participants.value} />
          </section>
          <section class="step">
            <h2>{words.files}</h2>
            <div class="recording-actions">
              <a class="button" href="/api/course/file" download>
                {words.fileAll}
              </a>
              {lists.map((list) => (
                <a key={list} class="button" href={`/api/course/file/${list}`} download>
                  {words.fileOf[list]}
                </a>
              ))}
            </div>
          </section>
        </>
      ) : null}
    </article>
  );
}
