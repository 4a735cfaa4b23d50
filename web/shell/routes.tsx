// The table of pages: address, view, and whether the navigation names it. A new view adds one line here and its address to `shared/page-paths.ts`.
// What a hold is watched with is in the first file; other views are lazy.

import type { ComponentChild } from 'preact';
import type { PagePath } from '../../shared/page-paths.ts';
import { isSchool } from '../app/is-school.ts';
import { lazyView } from '../app/lazy-view.tsx';
import type { Messages } from '../i18n/en.ts';
import { JoinView } from '../views/join/join-view.tsx';
import { LiveOnlyView, LiveView } from '../views/live/live-view.tsx';
import { SetupView } from '../views/setup/setup-view.tsx';
import { WallView } from '../views/wall/wall-view.tsx';

const AboutView = lazyView(() => import('../views/about/about-view.tsx').then((file) => file.AboutView));
const CourseView = lazyView(() => import('../views/course/course-view.tsx').then((file) => file.CourseView));
const BackupsView = lazyView(() =>
  import('../views/recordings/backups-view.tsx').then((file) => file.BackupsView),
);
const BinView = lazyView(() => import('../views/recordings/bin-view.tsx').then((file) => file.BinView));
const ComputerView = lazyView(() =>
  import('../views/devices/computer-view.tsx').then((file) => file.ComputerView),
);
const DevicesView = lazyView(() =>
  import('../views/devices/devices-view.tsx').then((file) => file.DevicesView),
);
const HelpView = lazyView(() => import('../views/help/help-view.tsx').then((file) => file.HelpView));
const HelpChapterView = lazyView(() =>
  import('../views/help/help-chapter-view.tsx').then((file) => file.HelpChapterView),
);
const HoldsCompareView = lazyView(() =>
  import('../views/holds-compare/holds-compare-view.tsx').then((file) => file.HoldsCompareView),
);
const PeopleView = lazyView(() => import('../views/people/people-view.tsx').then((file) => file.PeopleView));
const PlanRunReviewView = lazyView(() =>
  import('../views/plans/plan-run-review-view.tsx').then((file) => file.PlanRunReviewView),
);
const PlanRunView = lazyView(() =>
  import('../views/plans/plan-run-view.tsx').then((file) => file.PlanRunView),
);
const ImportView = lazyView(() => import('../views/import/import-view.tsx').then((file) => file.ImportView));
const NewPlanView = lazyView(() => import('../views/plans/plan-view.tsx').then((file) => file.NewPlanView));
const StoredPlanView = lazyView(() =>
  import('../views/plans/plan-view.tsx').then((file) => file.StoredPlanView),
);
const PlansView = lazyView(() => import('../views/plans/plans-view.tsx').then((file) => file.PlansView));
const ProfilesView = lazyView(() =>
  import('../views/sensor-profiles/profiles-view.tsx').then((file) => file.ProfilesView),
);
const RecordingView = lazyView(() =>
  import('../views/recording/recording-view.tsx').then((file) => file.RecordingView),
);
const RecordingsView = lazyView(() =>
  import('../views/recordings/recordings-view.tsx').then((file) => file.RecordingsView),
);
const CourseReportView = lazyView(() =>
  import('../views/report/course-report-view.tsx').then((file) => file.CourseReportView),
);
const ReportView = lazyView(() => import('../views/report/report-view.tsx').then((file) => file.ReportView));
const SchoolHealthView = lazyView(() =>
  import('../views/school-health/school-health-view.tsx').then((file) => file.SchoolHealthView),
);
const RoomsView = lazyView(() => import('../views/rooms/rooms-view.tsx').then((file) => file.RoomsView));
const SchoolPeopleView = lazyView(() =>
  import('../views/school-people/school-people-view.tsx').then((file) => file.SchoolPeopleView),
);
const SessionPairView = lazyView(() =>
  import('../views/sessions-compare/session-pair-view.tsx').then((file) => file.SessionPairView),
);
const BesideView = lazyView(() =>
  import('../views/sessions-compare/beside-view.tsx').then((file) => file.BesideView),
);
const TrainingView = lazyView(() =>
  import('../views/training/training-view.tsx').then((file) => file.TrainingView),
);
const WeeksView = lazyView(() => import('../views/weeks/weeks-view.tsx').then((file) => file.WeeksView));

export interface Route {
  readonly pattern: PagePath;
  readonly view: (parts: Readonly<Record<string, string>>) => ComponentChild;
  /** Named in the navigation, in the order of this table; absent for pages reached from others. */
  readonly navigation?: (text: Messages) => string;
  /** Named only to a coach, who alone can use it. */
  readonly forCoach?: boolean;
  /** Named to no coach of some rooms of a school only. */
  readonly ofWholeSchool?: boolean;
  /** Named only on the pages of a school. */
  readonly atSchool?: boolean;
  /** Named on the pages of a hub only: a school runs no session. */
  readonly ofHub?: boolean;
  /** Reached from the page that the navigation names, which is then the current one. */
  readonly under?: PagePath;
  /** Has nothing of anybody, so that who has not joined can read it too. */
  readonly withoutHub?: boolean;
  /** The view fills the window and scrolls inside itself. */
  readonly fillsWindow?: boolean;
}

export const routes: readonly Route[] = [
  {
    pattern: '/',
    view: () => (isSchool() ? <RoomsView /> : <SetupView />),
    navigation: (text) => text.nav.setup,
    ofHub: true,
  },
  {
    pattern: '/live',
    view: () => <LiveOnlyView />,
    navigation: (text) => text.nav.live,
    fillsWindow: true,
    ofHub: true,
  },
  {
    pattern: '/live/:athleteId',
    view: ({ athleteId }) => <LiveView athleteId={athleteId!} />,
    fillsWindow: true,
  },
  { pattern: '/wall', view: () => <WallView />, navigation: (text) => text.nav.wall, ofHub: true },
  { pattern: '/rooms', view: () => <RoomsView />, navigation: (text) => text.rooms.nav, atSchool: true },
  {
    pattern: '/school/people',
    view: () => <SchoolPeopleView />,
    navigation: (text) => text.schoolPeople.nav,
    atSchool: true,
    forCoach: true,
    ofWholeSchool: true,
  },
  { pattern: '/rooms/health', view: () => <SchoolHealthView />, forCoach: true, under: '/rooms' },
  { pattern: '/people', view: () => <PeopleView />, forCoach: true },
  {
    pattern: '/course',
    view: () => <CourseView />,
    navigation: (text) => text.course.papers.nav,
    ofHub: true,
  },
  { pattern: '/plans', view: () => <PlansView />, navigation: (text) => text.plans.nav, ofHub: true },
  {
    pattern: '/plans/new/:builder',
    view: ({ builder }) => <NewPlanView key={builder} builder={builder!} />,
  },
  { pattern: '/plans/:planId', view: ({ planId }) => <StoredPlanView key={planId} planId={planId!} /> },
  { pattern: '/plan-run', view: () => <PlanRunView />, fillsWindow: true },
  {
    pattern: '/plan-runs/:runId',
    view: ({ runId }) => <PlanRunReviewView key={runId} runId={runId!} />,
  },
  {
    pattern: '/training',
    view: () => <TrainingView />,
    navigation: (text) => text.plans.training.nav,
    ofWholeSchool: true,
  },
  { pattern: '/import', view: () => <ImportView />, forCoach: true },
  { pattern: '/bin', view: () => <BinView /> },
  { pattern: '/backups', view: () => <BackupsView />, forCoach: true },
  { pattern: '/recordings', view: () => <RecordingsView />, navigation: (text) => text.nav.recordings },
  {
    pattern: '/recordings/:sessionId',
    view: ({ sessionId }) => <RecordingView key={sessionId} sessionId={sessionId!} />,
  },
  {
    pattern: '/recordings/:sessionId/holds/:athleteId',
    view: ({ sessionId, athleteId }) => (
      <HoldsCompareView key={`${sessionId} ${athleteId}`} sessionId={sessionId!} athleteId={athleteId!} />
    ),
  },
  {
    pattern: '/recordings/:sessionId/report',
    view: ({ sessionId }) => <CourseReportView key={sessionId} sessionId={sessionId!} />,
  },
  {
    pattern: '/recordings/:sessionId/report/:athleteId',
    view: ({ sessionId, athleteId }) => (
      <ReportView key={`${sessionId} ${athleteId}`} sessionId={sessionId!} athleteId={athleteId!} />
    ),
  },
  {
    pattern: '/weeks',
    view: () => <WeeksView athleteId={null} />,
    navigation: (text) => text.history.weeks.nav,
  },
  {
    pattern: '/weeks/:athleteId',
    view: ({ athleteId }) => <WeeksView key={athleteId} athleteId={athleteId!} />,
  },
  {
    pattern: '/weeks/:athleteId/holds',
    view: ({ athleteId }) => <HoldsCompareView key={athleteId} sessionId={null} athleteId={athleteId!} />,
  },
  {
    pattern: '/weeks/:athleteId/sessions',
    view: ({ athleteId }) => <SessionPairView key={athleteId} athleteId={athleteId!} />,
  },
  {
    pattern: '/weeks/:athleteId/beside',
    view: ({ athleteId }) => <BesideView key={athleteId} athleteId={athleteId!} />,
  },
  {
    pattern: '/devices',
    view: () => <DevicesView />,
    navigation: (text) => text.nav.devices,
    forCoach: true,
    ofWholeSchool: true,
  },
  { pattern: '/devices/computer', view: () => <ComputerView />, forCoach: true },
  { pattern: '/devices/profiles', view: () => <ProfilesView />, forCoach: true },
  { pattern: '/join', view: () => <JoinView /> },
  { pattern: '/help', view: () => <HelpView />, navigation: (text) => text.help.nav, withoutHub: true },
  {
    pattern: '/help/:chapter',
    view: ({ chapter }) => <HelpChapterView key={chapter} chapterName={chapter!} />,
    withoutHub: true,
  },
  { pattern: '/about', view: () => <AboutView />, under: '/help', withoutHub: true },
];
