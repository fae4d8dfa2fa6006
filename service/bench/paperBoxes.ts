/** Boxes of a card on paper, in its order, with what each should read. */
import { descriptionOf } from '../../shared/cards/index.ts';
import type { CardFacts } from '../../shared/cards/index.ts';
import { paperFields } from '../../shared/cards/paper.ts';
import { unitOfField } from './cardRecord.ts';

export function boxesOfCard(facts: CardFacts) {
  return paperFields(descriptionOf(facts), facts).map((field) => ({
    label: field.label,
    unit: unitOfField(field, facts),
    expectedMilli: field.reads?.(facts) ?? null,
    choices: field.kind === 'choice' ? [...field.choices] : [],
  }));
}
