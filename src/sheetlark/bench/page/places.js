// The three views as planes, and small words about places. Millimetres throughout.
//
// top: x to the right, starboard up.  side: x to the right, z up.  front: as seen from ahead, starboard left.

export const VIEWS = {
  top: { title: "Top", flat: ([x, y]) => [x, -y], lift: (a, b) => ({ x: a, y: -b }) },
  side: { title: "Side", flat: ([x, , z]) => [x, -z], lift: (a, b) => ({ x: a, z: -b }) },
  front: { title: "Front", flat: ([, y, z]) => [-y, -z], lift: (a, b) => ({ y: -a, z: -b }) },
};

export const mirror = ([x, y, z]) => [x, -y, z];
export const key = (where) => where.join("/");
export const begins = (where, start) => start && start.every((part, i) => where[i] === part);
export const tidy = (value) => Math.round(value * 1000) / 1000;
