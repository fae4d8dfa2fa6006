/** What of a card goes on paper: the figures that are always asked for, and those of an adjustment after them. */
import type { BaseFacts, CardDescription, CardField, CardStep } from './card.ts';
import { fieldsOf } from './judge.ts';

/** True for a field that stands in the row of a card: what is on paper by itself, and whatever no card closes without. */
export function isInRow<F>(field: CardField<F>, step: CardStep<F>, facts: F): boolean {
  if (step.whenAdjusted) return false;
  const isNeeded =
    typeof field.isNeeded === 'function' ? field.isNeeded(facts, {}, false) : field.isNeeded === true;
  return field.onPaper === true || isNeeded;
}

/** Boxes of the paper sheet, in the order of the card. */
export function paperFields<F extends BaseFacts>(description: CardDescription<F>, facts: F): CardField<F>[] {
  return description.steps
    .filter((step) => step.isOn?.(facts) ?? true)
    .flatMap((step) =>
      fieldsOf(step, facts).filter((field) => step.whenAdjusted || isInRow(field, step, facts)),
    );
}
