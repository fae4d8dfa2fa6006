import { select } from 'd3-selection';
import { zoom, zoomIdentity } from 'd3-zoom';
import type { ZoomBehavior } from 'd3-zoom';
import { useEffect, useMemo, useRef, useState } from 'react';
import type { KeyboardEvent } from 'react';
import type { AirOf } from '../../../shared/register/air/airAt.ts';
import { deviceClassLabels } from '../../../shared/trade/words.ts';
import { NODE } from './layout.ts';
import type { PlacedItem, TreeLayout } from './layout.ts';

type View = { x: number; y: number; k: number };
type Window = { left: number; top: number; right: number; bottom: number };

type Props = {
  layout: TreeLayout;
  air: ReadonlyMap<number, AirOf>;
  /** Keys whose air differs from what it would be by itself. */
  changed: ReadonlySet<string>;
  active: string;
  /** `isByKey`: it is to be brought into view as well. */
  onActive: (key: string, isByKey: boolean) => void;
  onToggle: (key: string) => void;
  /** Counts up when the active item is to be brought into view. */
  wanted: number;
  isWhole: boolean;
};

/** The air of an item in a few words: state and pressure. */
export function airText(own: AirOf | undefined): string {
  if (!own) return '';
  if (!own.hasAir) return 'no air';
  const pressure = own.psi === null ? '' : `${Number(own.psi.toFixed(1))} psi`;
  const coil = own.energised === null ? '' : own.energised ? 'energised' : 'no current';
  return [coil, own.state ?? '', pressure].filter((word) => word !== '').join(', ');
}

/** The second line of an item. */
function secondLine({ item, below }: PlacedItem, own: AirOf | undefined): string {
  return item.device ? airText(own) || deviceClassLabels[item.device.node.class] : `${below} devices`;
}

function badgeOf({ item: { device } }: PlacedItem): string {
  if (!device || device.stops + device.looks === 0) return '';
  return device.stops > 0 ? `■ ${device.stops}` : `◆ ${device.looks}`;
}

/** What is read aloud: what stands there first, then what it means. */
function labelOf(placed: PlacedItem, own: AirOf | undefined): string {
  const { item, below, isOpen } = placed;
  const { device } = item;
  return [
    `${item.label} ${secondLine(placed, own)} ${badgeOf(placed)}`.trim(),
    device ? deviceClassLabels[device.node.class] : 'group',
    device && device.stops > 0 ? `${device.stops} findings that stop` : '',
    device && device.looks > 0 ? `${device.looks} to look at` : '',
    item.children.length > 0 ? `${below} below, ${isOpen ? 'open' : 'closed'}` : '',
  ]
    .filter((word) => word !== '')
    .join(', ');
}

function StateMark({ own }: { own: AirOf | undefined }) {
  if (!own || own.state === null) return null;
  return own.state === 'low' ? (
    <path d="M8 7h9l-4.5 8z" className="tree-low" />
  ) : (
    <path d="M12.5 6l4.5 8h-9z" className="tree-high" />
  );
}

function Item({
  placed,
  own,
  isActive,
  isChanged,
  onActive,
  onToggle,
}: {
  placed: PlacedItem;
  own: AirOf | undefined;
  isActive: boolean;
  isChanged: boolean;
  onActive: (key: string) => void;
  onToggle: (key: string) => void;
}) {
  const { item, key, x, y, isOpen, depth } = placed;
  const { device } = item;
  const hasChildren = item.children.length > 0;
  const classes = [
    'tree-item',
    device ? '' : 'tree-group',
    isActive ? 'tree-active' : '',
    isChanged ? 'tree-changed' : '',
    own && !own.hasAir ? 'tree-lost' : '',
  ].filter((word) => word !== '');
  const hasState = own !== undefined && own.state !== null;
  return (
    <g
      id={`air-${key}`}
      role="treeitem"
      aria-level={depth + 1}
      aria-selected={isActive}
      aria-expanded={hasChildren ? isOpen : undefined}
      transform={`translate(${x} ${y})`}
      className={classes.join(' ')}
      onClick={() => onActive(key)}
      onDoubleClick={() => onToggle(key)}
    >
      <title>{labelOf(placed, own)}</title>
      <rect width={NODE.width} height={NODE.height} rx={3} />
      <StateMark own={own} />
      <text x={hasState ? 22 : 8} y={14} className="tree-tag">
        {item.label}
      </text>
      <text x={8} y={28}>
        {secondLine(placed, own)}
      </text>
      {device && device.stops + device.looks > 0 ? (
        <text
          x={NODE.width - 8}
          y={14}
          textAnchor="end"
          className={device.stops > 0 ? 'tree-stop' : 'tree-look'}
        >
          {badgeOf(placed)}
        </text>
      ) : null}
      {hasChildren ? (
        <g
          className="tree-fold"
          onClick={(event) => {
            event.stopPropagation();
            onToggle(key);
          }}
        >
          <circle cx={NODE.width} cy={NODE.height / 2} r={8} />
          <path d={`M${NODE.width - 4} ${NODE.height / 2}h8${isOpen ? '' : `m-4 -4v8`}`} />
        </g>
      ) : null}
    </g>
  );
}

/** Part of the plot that stands in the window, with as much again on each side. */
function windowOf({ x, y, k }: View, size: { width: number; height: number }): Window {
  const [left, top] = [-x / k, -y / k];
  const [width, height] = [size.width / k, size.height / k];
  return { left: left - width, top: top - height, right: left + 2 * width, bottom: top + 2 * height };
}

const isIn = (shown: Window, { x, y }: { x: number; y: number }): boolean =>
  x + NODE.width >= shown.left && x <= shown.right && y + NODE.height >= shown.top && y <= shown.bottom;

/**
 * The tree in a window that is moved by dragging and by the wheel. Only what stands near the window is drawn; while it moves
 * nothing is drawn anew. Arrows walk it, Enter opens and shuts, Home goes to the top.
 */
export function AirTree({ layout, air, changed, active, onActive, onToggle, wanted, isWhole }: Props) {
  const frame = useRef<SVGSVGElement>(null);
  const moved = useRef<SVGGElement>(null);
  const behaviour = useRef<ZoomBehavior<SVGSVGElement, unknown> | null>(null);
  const drawn = useRef<View>({ x: 0, y: 0, k: 1 });
  const [view, setView] = useState<View>({ x: 0, y: 0, k: 1 });
  const [size, setSize] = useState({ width: 1200, height: 620 });

  useEffect(() => {
    const svg = frame.current;
    if (!svg) return;
    const watch = new ResizeObserver(() => setSize({ width: svg.clientWidth, height: svg.clientHeight }));
    watch.observe(svg);
    const own = zoom<SVGSVGElement, unknown>()
      .scaleExtent([0.15, 2])
      .on('zoom', ({ transform }: { transform: View }) => {
        moved.current?.setAttribute(
          'transform',
          `translate(${transform.x} ${transform.y}) scale(${transform.k})`,
        );
        const { x, y, k } = drawn.current;
        const far =
          Math.abs(transform.x - x) > svg.clientWidth * 0.6 ||
          Math.abs(transform.y - y) > svg.clientHeight * 0.6;
        if (!far && transform.k === k) return;
        drawn.current = { x: transform.x, y: transform.y, k: transform.k };
        setView(drawn.current);
      });
    select(svg).call(own).on('dblclick.zoom', null);
    behaviour.current = own;
    return () => watch.disconnect();
  }, []);

  // Brings the active item into view when it was chosen by key, by finding, or at the start.
  useEffect(() => {
    const svg = frame.current;
    const item = layout.placed.find(({ key }) => key === active);
    if (!svg || !item || !behaviour.current) return;
    const k = drawn.current.k;
    const target = zoomIdentity
      .translate(
        Math.min(40, svg.clientWidth * 0.4 - item.x * k),
        svg.clientHeight / 2 - (item.y + NODE.height / 2) * k,
      )
      .scale(k);
    behaviour.current.transform(select(svg), target);
    drawn.current = { x: target.x, y: target.y, k };
    setView(drawn.current);
    // The layout is asked for where the item stands, and not followed by itself.
    // oxlint-disable-next-line react-hooks/exhaustive-deps
  }, [wanted]);

  const shown = useMemo(() => {
    const near = isWhole ? null : windowOf(view, size);
    const placed =
      near === null ? layout.placed : layout.placed.filter((one) => isIn(near, one) || one.key === active);
    const keys = new Set(placed.map(({ key }) => key));
    return {
      placed,
      links: layout.links.filter(({ from, to }) => keys.has(from) || keys.has(to)),
    };
  }, [layout, view, size, active, isWhole]);

  const byKey = useMemo(() => new Map(layout.placed.map((one) => [one.key, one])), [layout]);
  const press = (event: KeyboardEvent): void => {
    const here = byKey.get(active);
    if (!here) return;
    const inColumn = layout.placed.filter(({ depth }) => depth === here.depth).toSorted((a, b) => a.y - b.y);
    const at = inColumn.findIndex(({ key }) => key === active);
    const go = (key: string | null | undefined): void => {
      event.preventDefault();
      if (key) onActive(key, true);
    };
    if (event.key === 'ArrowDown') go(inColumn[at + 1]?.key);
    else if (event.key === 'ArrowUp') go(inColumn[at - 1]?.key);
    else if (event.key === 'ArrowLeft') go(here.parent);
    else if (event.key === 'ArrowRight') {
      event.preventDefault();
      if (here.item.children.length === 0) return;
      if (here.isOpen) go(here.item.children[0].key);
      else onToggle(active);
    } else if (event.key === 'Enter' || event.key === ' ') {
      event.preventDefault();
      if (here.item.children.length > 0) onToggle(active);
    } else if (event.key === 'Home') go(layout.placed[0].key);
  };

  const { bounds } = layout;
  return (
    <svg
      ref={frame}
      className={isWhole ? 'air-tree air-tree-whole' : 'air-tree'}
      role="tree"
      aria-label="Air tree"
      aria-activedescendant={`air-${active}`}
      tabIndex={0}
      onKeyDown={press}
      viewBox={
        isWhole
          ? `${bounds.left} ${bounds.top} ${bounds.right - bounds.left} ${bounds.bottom - bounds.top}`
          : undefined
      }
    >
      <g ref={moved} transform={isWhole ? undefined : `translate(${view.x} ${view.y}) scale(${view.k})`}>
        <g aria-hidden="true">
          {shown.links.map(({ key, path }) => (
            <path key={key} d={path} className="tree-link" />
          ))}
          {layout.extra.map(({ key, path, isPilot }) => (
            <path key={key} d={path} className={isPilot ? 'tree-pilot' : 'tree-second'} />
          ))}
        </g>
        {shown.placed.map((one) => (
          <Item
            key={one.key}
            placed={one}
            own={one.item.device ? air.get(one.item.device.node.id) : undefined}
            isActive={one.key === active}
            isChanged={changed.has(one.key)}
            onActive={(key) => onActive(key, false)}
            onToggle={onToggle}
          />
        ))}
      </g>
    </svg>
  );
}
