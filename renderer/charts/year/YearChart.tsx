import type { KeyboardEvent } from 'react';
import type { RoundOverview } from '../../../shared/contract/rounds.ts';
import { monthOf } from '../../../shared/dates/plainDate.ts';
import { minutesText } from '../../ui/format.ts';
import { layoutYear, loadStep } from './layout.ts';

const CELL = 21;
const LEFT = 76;
const TOP = 18;
const names = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
const weekdays = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'];

type Props = { overview: RoundOverview; chosen: string | null; onChoose: (date: string) => void };

/** Day cells with load against capacity; each is a button's worth of a day. */
export function YearChart({ overview, chosen, onChoose }: Props) {
  const layout = layoutYear(overview.round.from, overview.round.to);
  const days = new Map(overview.days.map((day) => [day.date, day]));
  const width = LEFT + layout.columns * CELL + 8;
  const height = TOP + 7 * CELL + 4;
  // One stop for the Tab key; arrow keys go from one day with work to the next.
  const busy = overview.days.filter((day) => day.loadMinutes > 0).map((day) => day.date);
  const stop = chosen !== null && days.has(chosen) ? chosen : busy[0];
  function step(event: KeyboardEvent<SVGGElement>, from: string): void {
    const later = busy.find((date) => date > from);
    const earlier = busy.findLast((date) => date < from);
    const to: Record<string, string | undefined> = {
      ArrowRight: later,
      ArrowDown: later,
      ArrowLeft: earlier,
      ArrowUp: earlier,
      Home: busy[0],
      End: busy.at(-1),
      Enter: from,
      ' ': from,
    };
    if (!Object.hasOwn(to, event.key)) return;
    event.preventDefault();
    const date = to[event.key];
    if (date === undefined) return;
    onChoose(date);
    event.currentTarget.parentElement?.querySelector<SVGGElement>(`[data-date="${date}"]`)?.focus();
  }
  return (
    <div className="chart-scroll" role="region" aria-label="Days of the round" tabIndex={0}>
      <svg
        viewBox={`0 0 ${width} ${height}`}
        width={width}
        height={height}
        className="year-chart"
        role="group"
        aria-label="Days of the round with their load"
      >
        {layout.months.map(({ month, column }) => (
          <text key={month} x={LEFT + column * CELL} y={12}>
            {names[Number(monthOf(month).slice(5, 7)) - 1]}
          </text>
        ))}
        {weekdays.map((name, row) => (
          <text key={name} x={LEFT - 8} y={TOP + row * CELL + 14} textAnchor="end">
            {name}
          </text>
        ))}
        {layout.cells.map((cell) => {
          const day = days.get(cell.date);
          if (!day)
            return (
              <rect
                key={cell.date}
                x={LEFT + cell.column * CELL}
                y={TOP + cell.row * CELL}
                width={CELL - 2}
                height={CELL - 2}
                className="day day-off"
              />
            );
          const shade = loadStep(day.loadMinutes, day.capacityMinutes);
          const label = `${cell.date}: ${minutesText(day.loadMinutes)} of ${minutesText(day.capacityMinutes)}${day.forcedMains.length > 0 ? `, ${day.forcedMains.length} main switched by hand` : ''}`;
          const choose = (): void => onChoose(cell.date);
          return (
            <g
              key={cell.date}
              role="button"
              data-date={cell.date}
              tabIndex={cell.date === stop ? 0 : -1}
              aria-label={label}
              aria-pressed={chosen === cell.date}
              className={`day load-${shade} ${chosen === cell.date ? 'chosen' : ''}`}
              onClick={choose}
              onKeyDown={(event) => step(event, cell.date)}
            >
              <title>{label}</title>
              <rect
                x={LEFT + cell.column * CELL}
                y={TOP + cell.row * CELL}
                width={CELL - 2}
                height={CELL - 2}
              />
              {day.forcedMains.length > 0 ? (
                <circle
                  cx={LEFT + cell.column * CELL + (CELL - 2) / 2}
                  cy={TOP + cell.row * CELL + (CELL - 2) / 2}
                  r={2.6}
                  className="forced"
                />
              ) : null}
            </g>
          );
        })}
      </svg>
    </div>
  );
}

/** One lane a main: the state it has by itself as a thin line, the state the round holds it at as a block. */
export function MainLanes({ overview }: { overview: RoundOverview }) {
  const layout = layoutYear(overview.round.from, overview.round.to);
  const LANE = 24;
  const dayWidth = CELL / 7;
  const xOf = new Map(
    layout.cells.map((cell) => [cell.date, LEFT + cell.column * CELL + cell.row * dayWidth]),
  );
  const width = LEFT + layout.columns * CELL + 8;
  const height = TOP + overview.mains.length * LANE + 4;
  const count = (main: RoundOverview['mains'][number]): number =>
    main.lanes.filter((lane) => lane.held !== null).length;
  return (
    <div className="chart-scroll" role="region" aria-label="Air states of the mains" tabIndex={0}>
      <svg
        viewBox={`0 0 ${width} ${height}`}
        width={width}
        height={height}
        className="lanes"
        role="img"
        aria-label={`Air states: ${overview.mains.map((main) => `${main.tag} used on ${count(main)} days`).join(', ')}`}
      >
        {layout.months.map(({ month, column }) => (
          <text key={month} x={LEFT + column * CELL} y={12}>
            {names[Number(month.slice(5, 7)) - 1]}
          </text>
        ))}
        {overview.mains.map((main, index) => {
          const y = TOP + index * LANE;
          return (
            <g key={main.tag}>
              <text x={LEFT - 8} y={y + 14} textAnchor="end">
                {main.tag}
              </text>
              <line x1={LEFT} x2={width - 8} y1={y + LANE - 2} y2={y + LANE - 2} className="grid" />
              {main.lanes.map((lane) => {
                const x = xOf.get(lane.date) ?? 0;
                return (
                  <g key={lane.date}>
                    {lane.natural ? (
                      <rect
                        x={x}
                        width={dayWidth + 0.2}
                        y={lane.natural === 'high' ? y + 4 : y + 16}
                        height={2}
                        className={`lane-${lane.natural}`}
                      />
                    ) : null}
                    {lane.held ? (
                      <rect
                        x={x}
                        width={dayWidth + 0.2}
                        y={lane.held === 'high' ? y + 2 : y + 11}
                        height={8}
                        className={`lane-${lane.held}`}
                      />
                    ) : null}
                  </g>
                );
              })}
            </g>
          );
        })}
      </svg>
    </div>
  );
}
