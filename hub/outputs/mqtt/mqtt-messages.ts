// What is published to a broker: topics and texts, without a connection. MQTT 3.1.1; retained, so that whoever comes later knows too.

import { newsInJson } from '../alarm-news.ts';
import type { AlarmNews, OutputSound } from '../alarm-output.ts';

export interface MqttMessage {
  readonly topic: string;
  readonly text: string;
}

export interface MqttState {
  readonly priority: OutputSound | null;
  readonly news: readonly AlarmNews[];
  readonly isSessionRunning: boolean;
}

export const onlineTopic = (topic: string): string => `${topic}/online`;

/** Everything that stands now; sent whole at each connection, and in part at changes. */
export function stateMessages(topic: string, { priority, news, isSessionRunning }: MqttState): MqttMessage[] {
  return [alarmMessage(topic, priority, news), sessionMessage(topic, isSessionRunning)];
}

export function alarmMessage(
  topic: string,
  priority: OutputSound | null,
  news: readonly AlarmNews[],
): MqttMessage {
  const about = newsInJson(news);
  return {
    topic: `${topic}/alarm`,
    text: JSON.stringify({
      alarm: priority === 'drill' ? 'high' : (priority ?? 'none'),
      ...(priority === 'drill' && { drill: true }),
      about,
    }),
  };
}

export const sessionMessage = (topic: string, isRunning: boolean): MqttMessage => ({
  topic: `${topic}/session`,
  text: isRunning ? 'running' : 'none',
});

/**
 * What lets a home hub find the topics by itself, by the convention that such hubs share: under a prefix of theirs a
 * retained message with what a thing is called and where its state is. `id` is letters, digits, - and _.
 */
export function discoveryMessages(prefix: string, topic: string, id: string, version: string): MqttMessage[] {
  const shared = {
    availability_topic: onlineTopic(topic),
    device: { identifiers: [id], name: 'Slackwater', sw_version: version },
  };
  const thing = (object: string, config: Readonly<Record<string, unknown>>): MqttMessage => ({
    topic: `${prefix}/binary_sensor/${id}/${object}/config`,
    text: JSON.stringify({ unique_id: `${id}_${object}`, ...config, ...shared }),
  });
  return [
    thing('alarm', {
      name: 'Alarm',
      device_class: 'safety',
      state_topic: `${topic}/alarm`,
      value_template: "{{ 'ON' if value_json.alarm in ['high', 'medium'] else 'OFF' }}",
      json_attributes_topic: `${topic}/alarm`,
    }),
    thing('session', {
      name: 'Session',
      device_class: 'running',
      state_topic: `${topic}/session`,
      payload_on: 'running',
      payload_off: 'none',
    }),
  ];
}
