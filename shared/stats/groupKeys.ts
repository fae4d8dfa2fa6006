/** What drift groups may be made by. */
export const groupKeys = ['class', 'kind', 'main', 'level', 'age', 'room use', 'person', 'gauge'] as const;
export type GroupKey = (typeof groupKeys)[number];
