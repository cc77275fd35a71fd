// What is drawn, part by part: a part is drawn anew where what it is made of has changed, and stands as it
// is otherwise. A browser that paints the whole board with every reading is late with the digits.

export class Stage {
  constructor(root) {
    this.root = root;
    this.parts = new Map();
    this.next = new Map();
  }

  // Its coordinates.
  view(box) {
    if (this.root.getAttribute('viewBox') !== box) this.root.setAttribute('viewBox', box);
  }

  // A part of this name, made of these values; in the order in which they lie over one another.
  part(name, of, draw) {
    const as = JSON.stringify(of);
    const before = this.parts.get(name);
    this.next.set(name, before?.as === as ? before : { as, drawn: draw() });
  }

  // These parts and no others.
  show() {
    const wanted = [...this.next.values()].map(({ drawn }) => drawn);
    const kept = new Set(wanted);
    for (const old of [...this.root.childNodes]) if (!kept.has(old)) old.remove();
    wanted.forEach((drawn, at) => {
      if (this.root.childNodes[at] !== drawn) this.root.insertBefore(drawn, this.root.childNodes[at] ?? null);
    });
    [this.parts, this.next] = [this.next, new Map()];
  }
}
