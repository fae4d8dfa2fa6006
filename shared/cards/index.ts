/** Every card by its class. Adding a class is adding its description here. */
import { actuatorCard } from './actuator.ts';
import type { ActuatorFacts } from './actuator.ts';
import type { BaseFacts, CardDescription } from './card.ts';
import { mainCard } from './main.ts';
import type { MainFacts } from './main.ts';
import { receiverCard } from './receiver.ts';
import type { ReceiverFacts } from './receiver.ts';
import { regulatorCard } from './regulator.ts';
import type { RegulatorFacts } from './regulator.ts';
import { relayCard } from './relay.ts';
import type { RelayFacts } from './relay.ts';
import { setpointCard } from './setpoint.ts';
import type { SetpointCardFacts } from './setpoint.ts';
import { stationCard } from './station.ts';
import type { StationFacts } from './station.ts';
import { timeSwitchCard } from './timeSwitch.ts';
import type { TimeSwitchFacts } from './timeSwitch.ts';
import { transmitterCard } from './transmitter.ts';
import type { TransmitterFacts } from './transmitter.ts';

export type CardFacts =
  | SetpointCardFacts
  | ReceiverFacts
  | RegulatorFacts
  | RelayFacts
  | TimeSwitchFacts
  | MainFacts
  | TransmitterFacts
  | ActuatorFacts
  | StationFacts;
export type CardKind = CardFacts['card'];

export const cards: { [K in CardKind]: CardDescription<Extract<CardFacts, { card: K }>> } = {
  setpoint: setpointCard,
  receiver: receiverCard,
  regulator: regulatorCard,
  switchover_relay: relayCard,
  time_switch: timeSwitchCard,
  main: mainCard,
  transmitter: transmitterCard,
  actuator: actuatorCard,
  air_station: stationCard,
};

/** Version of the descriptions and formulas; stored with every record made by a card. */
export const CARD_VERSION = 'cards 1';

/** The description that goes with some facts. */
export function descriptionOf(facts: CardFacts): CardDescription<CardFacts & BaseFacts> {
  // The key of the facts chooses the description that takes them: the compiler cannot follow it through the union.
  return cards[facts.card] as unknown as CardDescription<CardFacts & BaseFacts>;
}
