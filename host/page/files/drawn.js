// Small helpers to build what is shown. Text goes in as text, never as markup.

const SVG = 'http://www.w3.org/2000/svg';

export function svg(name, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, name);
  for (const [attribute, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) element.setAttribute(attribute, String(value));
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

export function label(says, x, y, size, more = {}) {
  return svg('text', { x, y, 'font-size': size, 'text-anchor': 'middle', ...more }, says);
}

// Whether two boxes have anything in common.
export const overlap = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

export const keep = (value, low, high) => Math.min(Math.max(value, low), high);

export function text(element, says) {
  if (element.textContent !== says) element.textContent = says;
}

// A verdict as it is told: shape and word.
export function judged(verdict) {
  return verdict ? `${verdict.shape} ${verdict.says}` : '';
}

export function verdictClass(verdict) {
  return verdict ? verdict.is : 'unjudged';
}

// Words in lines of at most so many characters; what a fixed blank holds together stays together.
export function wrapped(says, most) {
  const lines = [];
  for (const word of says.split(/[ \n\t]+/).filter(Boolean)) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= most) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}

// Where a field reaches a level: segments between the points of the grid, in shares of its width and
// height. Cells with a corner that is not known have none.
export function segments(field, level) {
  const { columns, rows, gaps_mm: gaps } = field;
  const found = [];
  for (let row = 0; row + 1 < rows; row += 1) {
    for (let column = 0; column + 1 < columns; column += 1) {
      const corners = [
        [column, row],
        [column + 1, row],
        [column + 1, row + 1],
        [column, row + 1],
      ].map(([x, y]) => ({ x, y, gap: gaps[y * columns + x] }));
      if (corners.some(({ gap }) => gap === null || gap === undefined)) continue;
      const crossed = [];
      for (let at = 0; at < 4; at += 1) {
        const [a, b] = [corners[at], corners[(at + 1) % 4]];
        if (a.gap >= level !== b.gap >= level) {
          const share = (level - a.gap) / (b.gap - a.gap);
          crossed.push([a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)]);
        }
      }
      for (let at = 0; at + 1 < crossed.length; at += 2) {
        found.push([crossed[at], crossed[at + 1]].map(([x, y]) => [x / (columns - 1), y / (rows - 1)]));
      }
    }
  }
  return found;
}

// The cells of which nothing is known, as [left, top, width, height] in shares; runs are joined.
export function unknown(field) {
  const { columns, rows, gaps_mm: gaps } = field;
  const found = [];
  for (let row = 0; row + 1 < rows; row += 1) {
    let from = null;
    for (let column = 0; column < columns; column += 1) {
      const corner = (x, y) => gaps[y * columns + x] ?? null;
      const hidden = column + 1 < columns
        && [corner(column, row), corner(column + 1, row), corner(column, row + 1), corner(column + 1, row + 1)].includes(null);
      if (hidden && from === null) from = column;
      if (!hidden && from !== null) {
        found.push([from / (columns - 1), row / (rows - 1), (column - from) / (columns - 1), 1 / (rows - 1)]);
        from = null;
      }
    }
  }
  return found;
}

// The gap over the board: lines of equal gap, and where nothing is known.
export function drawField(field, image) {
  const { width_mm: width, height_mm: height } = image;
  const place = ([x, y]) => `${(x * width - width / 2).toFixed(0)} ${(y * height).toFixed(0)}`;
  const group = svg('g', { id: 'field' });
  for (const [left, top, across, tall] of unknown(field)) {
    group.append(svg('rect', {
      x: left * width - width / 2,
      y: top * height,
      width: across * width,
      height: tall * height,
      fill: 'url(#not-known)',
    }));
  }
  for (const level of field.levels) {
    const found = segments(field, level.gap_mm);
    if (!found.length) continue;
    group.append(svg('path', {
      class: level.limit ? 'limit' : 'contour',
      d: found.map(([a, b]) => `M${place(a)}L${place(b)}`).join(''),
    }));
  }
  return group;
}

// What each of its lines stands for, written on it where nothing else stands; where there is no such place
// it is not.
export function drawLevels(field, image, boxes) {
  const { width_mm: width, height_mm: height } = image;
  const taken = [...boxes];
  const group = svg('g', { id: 'levels' });
  for (const level of field.levels) {
    const half = level.says.length * 9 + 6;
    const places = segments(field, level.gap_mm).map(([[x, y]]) => [keep(x * width - width / 2, half - width / 2, width / 2 - half), keep(y * height, 40, height - 12)]);
    const free = places
      .map(([x, y]) => ({ x, y, box: { left: x - half, right: x + half, top: y - 26, bottom: y + 8 } }))
      .filter(({ box }) => !taken.some((other) => overlap(box, other)))
      .sort((a, b) => Math.abs(a.y - 0.85 * height) - Math.abs(b.y - 0.85 * height))[0];
    if (!free) continue;
    taken.push(free.box);
    group.append(label(level.says, free.x, free.y, 28, { class: 'soft' }));
  }
  return group;
}
