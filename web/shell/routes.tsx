// The table of pages: address, view, and whether the navigation names it. A new view adds one line here.

import type { ComponentChild } from 'preact';
import type { Messages } from '../i18n/en.ts';
import { AboutView } from '../views/about/about-view.tsx';
import { DevicesView } from '../views/devices/devices-view.tsx';
import { JoinView } from '../views/join/join-view.tsx';
import { LiveOnlyView, LiveView } from '../views/live/live-view.tsx';
import { PlanRunReviewView } from '../views/plans/plan-run-review-view.tsx';
import { PlanRunView } from '../views/plans/plan-run-view.tsx';
import { NewPlanView, StoredPlanView } from '../views/plans/plan-view.tsx';
import { PlansView } from '../views/plans/plans-view.tsx';
import { RecordingView } from '../views/recording/recording-view.tsx';
import { RecordingsView } from '../views/recordings/recordings-view.tsx';
import { SetupView } from '../views/setup/setup-view.tsx';
import { TrainingView } from '../views/training/training-view.tsx';
import { WallView } from '../views/wall/wall-view.tsx';

export interface Route {
  /** As `matchPath` reads it: "/recordings/:sessionId". */
  readonly pattern: string;
  readonly view: (parts: Readonly<Record<string, string>>) => ComponentChild;
  /** Named in the navigation, in the order of this table; absent for pages reached from others. */
  readonly navigation?: (text: Messages) => string;
  /** Named only to a coach, who alone can use it. */
  readonly forCoach?: boolean;
  /** The view fills the window and scrolls inside itself. */
  readonly fillsWindow?: boolean;
}

export const routes: readonly Route[] = [
  { pattern: '/', view: () => <SetupView />, navigation: (text) => text.nav.setup },
  { pattern: '/live', view: () => <LiveOnlyView />, navigation: (text) => text.nav.live, fillsWindow: true },
  {
    pattern: '/live/:athleteId',
    view: ({ athleteId }) => <LiveView athleteId={athleteId!} />,
    fillsWindow: true,
  },
  { pattern: '/wall', view: () => <WallView />, navigation: (text) => text.nav.wall },
  { pattern: '/plans', view: () => <PlansView />, navigation: (text) => text.plans.nav },
  {
    pattern: '/plans/new/:builder',
    view: ({ builder }) => <NewPlanView key={builder} builder={builder!} />,
  },
  { pattern: '/plans/:planId', view: ({ planId }) => <StoredPlanView key={planId} planId={planId!} /> },
  { pattern: '/plan-run', view: () => <PlanRunView /> },
  {
    pattern: '/plan-runs/:runId',
    view: ({ runId }) => <PlanRunReviewView key={runId} runId={runId!} />,
  },
  { pattern: '/training', view: () => <TrainingView />, navigation: (text) => text.plans.training.nav },
  { pattern: '/recordings', view: () => <RecordingsView />, navigation: (text) => text.nav.recordings },
  {
    pattern: '/recordings/:sessionId',
    view: ({ sessionId }) => <RecordingView key={sessionId} sessionId={sessionId!} />,
  },
  {
    pattern: '/devices',
    view: () => <DevicesView />,
    navigation: (text) => text.nav.devices,
    forCoach: true,
  },
  { pattern: '/join', view: () => <JoinView /> },
  { pattern: '/about', view: () => <AboutView />, navigation: (text) => text.nav.about },
];
