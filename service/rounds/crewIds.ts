import type { PlanInstance } from '../../shared/planning/instance.ts';

/** The id that a person has in a drawn instance: their initials of that day. */
export function crewIdOf(instance: PlanInstance, person: { id: number; initials: string }): string {
  return instance.crews.find((crew) => crew.personId === person.id)?.id ?? person.initials;
}
