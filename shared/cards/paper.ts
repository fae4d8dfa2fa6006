/** What of a card goes on paper: the figures that are always asked for, and those of an adjustment after them. */
import type { BaseFacts, CardDescription, CardField, CardStep } from './card.ts';
import { fieldsOf } from './judge.ts';

function stepsOf<F extends BaseFacts>(description: CardDescription<F>, facts: F): CardStep<F>[] {
  return description.steps.filter((step) => step.isOn?.(facts) ?? true);
}

/** Boxes of the paper sheet, in the order of the card. */
export function paperFields<F extends BaseFacts>(description: CardDescription<F>, facts: F): CardField<F>[] {
  return stepsOf(description, facts).flatMap((step) =>
    fieldsOf(step, facts).filter((field) => field.onPaper || step.whenAdjusted),
  );
}
