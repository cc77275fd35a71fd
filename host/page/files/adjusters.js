// The adjusters at the top edge: the one to turn, its sense, and a dial that closes.

import { keep, label, svg, wrapped } from './drawn.js';

// An arc of a circle, from the top clockwise by this share; negative goes the other way.
function arc(x, y, radius, share) {
  const turn = keep(share, -0.9999, 0.9999) * 2 * Math.PI;
  const end = [x + radius * Math.sin(turn), y - radius * Math.cos(turn)];
  return `M${x} ${y - radius}A${radius} ${radius} 0 ${Math.abs(turn) > Math.PI ? 1 : 0} ${turn > 0 ? 1 : 0} ${end[0].toFixed(1)} ${end[1].toFixed(1)}`;
}

// Which way, as an arrow around the adjuster.
function sense(x, y, radius, clockwise) {
  const way = clockwise ? 1 : -1;
  const tip = [x + way * radius * Math.sin(2.2), y - radius * Math.cos(2.2)];
  const back = (turn, off) => [x + way * (radius + off) * Math.sin(turn), y - (radius + off) * Math.cos(turn)];
  const [a, b] = [back(1.8, 26), back(1.8, -26)];
  return svg('path', { class: 'arrow', d: `${arc(x, y, radius, way * 0.35)}M${a}L${tip}L${b}` });
}

// The three adjusters at the top edge, as seen from the room. They stand close together and above
// the image: here they keep their order and stand apart.
export function drawAdjusters(state, scale) {
  const sorted = [...state.adjusters].sort((a, b) => a.at[0] - b.at[0]);
  const group = svg('g', { id: 'adjusters', transform: `scale(${scale})` });
  const apart = 340;
  const upper = Math.max(...sorted.map((adjuster) => adjuster.at[1]));
  sorted.forEach((adjuster, index) => {
    const x = (index - (sorted.length - 1) / 2) * apart;
    const y = adjuster.at[1] < upper ? 250 : 235;
    const { turn } = adjuster;
    group.append(svg('circle', { class: 'ring', cx: x, cy: y, r: 58 }));
    group.append(label(adjuster.name, x, y + 13, 34, { class: turn ? 'to-do' : 'soft' }));
    if (turn) {
      const share = state.aim ? state.aim.share : turn.of ? 1 - Math.abs(turn.left / turn.of) : 0;
      const there = state.aim?.there ?? false;
      group.append(there
        ? svg('circle', { id: 'dial', class: 'closed', 'data-share': 1, cx: x, cy: y, r: 80 })
        : svg('path', { id: 'dial', class: 'closing', 'data-share': share.toFixed(3), d: arc(x, y, 80, keep(share, 0.005, 0.98)) }));
      if (!there) group.append(sense(x, y, 124, turn.clockwise));
      const says = there ? ['■ stop'] : wrapped(`${turn.clockwise ? '↻' : '↺'} ${turn.says}`, 16);
      says.slice(0, 3).forEach((line, row) => {
        group.append(label(line, x, y + 186 + row * 50, 46, { class: there ? 'within' : 'to-do' }));
      });
    }
  });
  return group;
}
