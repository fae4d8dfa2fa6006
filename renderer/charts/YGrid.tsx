/** Lines of the vertical axis across a plot, each with its value at the left. */
export function YGrid({
  ticks,
  plot,
  text = String,
}: {
  ticks: readonly { value: number; y: number }[];
  plot: { left: number; right: number };
  text?: (value: number) => string;
}) {
  return ticks.map((tick) => (
    <g key={tick.value}>
      <line x1={plot.left} x2={plot.right} y1={tick.y} y2={tick.y} className="grid" />
      <text x={plot.left - 6} y={tick.y + 4} textAnchor="end">
        {text(tick.value)}
      </text>
    </g>
  ));
}
