// The wire contract's version. Any change of a schema changes the pinned hash in tests/contract; bump this with it.

/** History: 1 = first contract; 2 = roles and devices in welcome, presence; 3 = refusal codes of plans;
 * 4 = rateHold, feeling in a hold; 5 = alarms are acknowledged by id;
 * 6 = every request is answered by its id, a plan's run comes down the socket, settings change over the socket only;
 * 7 = an alarm keeps its value when raised beside the worst, and when it passed and was acknowledged by whom;
 * 8 = readings that stand still are an alarm of their own; marks say how full the lungs are, plans may, and a forecast
 * says what that means beforehand; refusals, notices and warnings are said by code;
 * 9 = a hold's confidence and whether it is a proposal; a breathing channel;
 * 10 = why a sensor's link is as it is, damage of a recording and what import says are codes, not sentences; counts and
 * flags are named for what they are: `droppedCount` in latest, `decimatedCount` and `decimated` in traces;
 * 11 = an athlete's name comes as it is kept, whatever it is;
 * 12 = alarms of the watching itself; a page says which alarms it shows and what it sounds; a mark says that the athlete
 * answers;
 * 13 = a saturation that was never read since the session began is an alarm of its own;
 * 14 = what stands but isn't saved is answered with what it would have been, and the hub says when it is saved; a session
 * tells the stretches in which nobody was watched; a hold under way says where it probably ended; people and sensors of a
 * session change while it runs, two whose sensors look exchanged are an alarm, and pages are told of the emergency card
 * and of drills, of who gives cues aloud, and athletes of a coach's words; a plan is run by as many as a session takes;
 * what is deleted goes into the bin and is answered with its place there; recordings are titled and listed with figures;
 * backups are restored from the page;
 * 15 = the welcome says which process of the hub it comes from; newest values and samples come in binary live frames that
 * say only what has changed, and sensors as they change; the hub tells how its certificate came to be and a code to compare
 * it by, and checks its computer; recordings are looked for by the hub, notes on an athlete's session and which plans were
 * run stand beside it, parts of recordings change hands, and the history says what is missing; a session file is
 * imported, and an import suggests a title; a mark says that a hold goes on though it was asked whether it has ended, and an
 * alarm that breathing is not certain;
 * 16 = a plan that was run with others is listed and read with the own part of it; two athletes' sessions side by side are a
 * body of their own, which takes both their agreements;
 * a sensor says whether the computer keeps a key for it, and what it wants of a person while it pairs;
 * and by which radio elsewhere it is linked; devices may be radios, the hub tells of its radios, and a sensor is said to be the
 * same as another;
 * a sensor can bring a breathing channel; profiles of sensors are read and written, and a sensor is looked at;
 * what a page that joins has missed of traces comes packed, in a live frame;
 * at a school, a room whose hub says nothing is an alarm;
 * 17 = recordings are listed with what their figures of holds rest on; the log of who did what says who did it from afar, and in
 * which room;
 * an alarm may be of a breathing sensor; a coach's device may be for some rooms of a school;
 * 18 = a session says who leads it, and recordings are looked for by that;
 * 19 = an assigned sensor without a link says whether it is heard all the same;
 * 20 = a forecast alarm says that it comes because nobody said how full the lungs are. A page of 19 is told to reload, as any other. */
export const protocolVersion = 20;
