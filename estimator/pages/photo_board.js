// A photograph to look at, to outline zones on, or to point at a neutral thing. All points are in photo coordinates.
// Python owns the drawing: it hands the outlines in, and hears of a change once, when the finger is lifted.

const VERTEX_HIT_PX = 26; // a fingertip, on the screen
const CLOSE_HIT_PX = 14; // a mouse, or the first points of a zone, which may lie close together
const EDGE_HIT_PX = 22;
const LASSO_STARTS_PX = 14;
const LEAST_LASSO_PX = 60;
const MOST_POINTS = 60;
const KEY_STEP = 0.01; // of the photo's width
const KEYS_REST_MS = 350;
const LOUPE_PX = 112;
const LOUPE_TIMES = 3;

const boards = new WeakMap();

export default function ({ parentElement, data, setTriggerValue }) {
  if (!boards.has(parentElement)) boards.set(parentElement, new Board(parentElement));
  boards.get(parentElement).take(data, setTriggerValue);
}

class Board {
  constructor(root) {
    this.sheet = root.querySelector(".sheet");
    this.canvas = root.querySelector("canvas");
    this.pen = this.canvas.getContext("2d");
    this.say = root.querySelector(".say");
    [this.tools, this.moreTools] = root.querySelectorAll(".tools");
    this.more = root.querySelector(".more");
    this.picture = new Image();
    this.picture.onload = () => this.draw();
    this.zones = [];
    this.selected = 0;
    this.point = 0;
    this.serial = 0; // counts our own changes, so that an older answer never overwrites a newer drawing
    this.heard = 0;
    this.listen();
    new ResizeObserver(() => this.fit()).observe(this.sheet);
  }

  take(data, send) {
    this.send = send;
    const fresh = !this.data || data.revision !== this.data.revision || data.selected !== this.data.selected;
    const modeBefore = this.data?.mode;
    this.data = data;
    if (fresh || data.serial >= this.serial) {
      this.zones = data.zones.map((zone) => ({ ...zone, points: zone.points.map((p) => [...p]) }));
      this.spot = data.spot ? { ...data.spot } : null;
      this.selected = data.selected;
      this.serial = Math.max(this.serial, data.serial);
    }
    this.seekPicture(40);
    if (modeBefore !== data.mode) this.dress();
    this.fit();
  }

  // The picture stands hidden beside the board and may arrive, or change, a moment later.
  seekPicture(tries) {
    clearTimeout(this.seeking);
    const found = document.querySelector(this.data.source)?.src;
    if (found && found !== this.picture.src) this.picture.src = found;
    if (tries) this.seeking = setTimeout(() => this.seekPicture(tries - 1), 75);
  }

  // ---- size ----
  fit() {
    if (!this.data) return;
    const { width_px: wide, height_px: high } = this.data.photo;
    const room = this.sheet.clientWidth - 16;
    const tall = Math.max(220, window.innerHeight * this.data.tallest_share);
    const width = Math.max(1, Math.min(room, (tall * wide) / high, wide * 2));
    const ratio = window.devicePixelRatio || 1;
    this.scale = width / wide;
    this.canvas.style.width = `${width}px`;
    this.canvas.style.height = `${width * (high / wide)}px`;
    this.canvas.width = Math.round(width * ratio);
    this.canvas.height = Math.round(width * (high / wide) * ratio);
    this.ratio = ratio;
    this.draw();
  }

  toPhoto(event) {
    const box = this.canvas.getBoundingClientRect();
    const inside = (value, most) => Math.min(Math.max(value, 0), most);
    return [
      inside((event.clientX - box.left) / this.scale, this.data.photo.width_px),
      inside((event.clientY - box.top) / this.scale, this.data.photo.height_px),
    ];
  }

  // ---- drawing ----
  draw() {
    if (!this.data || !this.scale) return;
    const { pen } = this;
    const step = this.scale * this.ratio;
    pen.setTransform(step, 0, 0, step, 0, 0);
    pen.imageSmoothingQuality = "high";
    if (this.picture.complete && this.picture.naturalWidth) {
      pen.drawImage(this.picture, 0, 0, this.data.photo.width_px, this.data.photo.height_px);
    }
    this.data.quads.forEach((quad, i) => this.line(quad, true, i ? 0.75 : 2));
    this.zones.forEach((zone, index) => index !== this.selected && this.outline(zone, false));
    if (this.zones[this.selected]) this.outline(this.zones[this.selected], this.data.mode === "outline");
    this.labels();
    if (this.lasso) this.line(this.lasso, false, 3);
    if (this.spot) this.ring(this.spot);
    if (this.held !== undefined && this.held !== null) this.loupe();
  }

  // White on black: seen on any hair, and it adds no hue of its own.
  line(points, closed, width_px) {
    if (!points.length) return;
    const { pen } = this;
    pen.beginPath();
    points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    if (closed) pen.closePath();
    pen.lineJoin = "round";
    for (const [style, width] of [["#000000", width_px * 2], ["#ffffff", width_px]]) {
      pen.strokeStyle = style;
      pen.lineWidth = width / this.scale;
      pen.stroke();
    }
  }

  outline(zone, editable) {
    this.line(zone.points, zone.points.length > 2, editable ? 3 : 1.5);
    if (editable) zone.points.forEach((p, i) => this.vertex(p, i === this.point));
  }

  vertex([x, y], current) {
    const { pen } = this;
    const half = (current ? 8 : 5.5) / this.scale;
    pen.fillStyle = current ? "#000000" : "#ffffff";
    pen.strokeStyle = current ? "#ffffff" : "#000000";
    pen.lineWidth = (current ? 3 : 1.5) / this.scale;
    pen.beginPath();
    pen.rect(x - half, y - half, 2 * half, 2 * half);
    pen.fill();
    pen.stroke();
  }

  // Names come last, each where it hides no other: above its zone, in its middle, or below it.
  labels() {
    const { pen } = this;
    const size = 16 / this.scale;
    const taken = [];
    pen.font = `600 ${size}px ${getComputedStyle(this.say).fontFamily}`;
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    for (const { label, points } of this.zones.filter((zone) => zone.points.length > 2)) {
      const wide = pen.measureText(label).width + size * 0.7;
      const places = labelPlaces(points, size).map(([x, y]) => [
        Math.min(Math.max(x, wide / 2), this.data.photo.width_px - wide / 2),
        Math.min(Math.max(y, size), this.data.photo.height_px - size),
      ]);
      const free = ([x, y]) => taken.every((t) => Math.abs(t.x - x) > (t.wide + wide) / 2 || Math.abs(t.y - y) > size * 1.6);
      const [x, y] = places.find(free) ?? places[0];
      taken.push({ x, y, wide });
      pen.fillStyle = "#000000";
      pen.fillRect(x - wide / 2, y - size * 0.75, wide, size * 1.5);
      pen.fillStyle = "#ffffff";
      pen.fillText(label, x, y);
    }
  }

  ring({ x_px, y_px, radius_px }) {
    const { pen } = this;
    for (const [style, width] of [["#000000", 5], ["#ffffff", 2.5]]) {
      pen.strokeStyle = style;
      pen.lineWidth = width / this.scale;
      pen.beginPath();
      pen.arc(x_px, y_px, radius_px, 0, 2 * Math.PI);
      pen.stroke();
    }
  }

  // The finger hides what it moves, so the place under it is shown in a far corner, three times as large.
  loupe() {
    const { pen } = this;
    const [x, y] = this.held;
    const side = LOUPE_PX / this.scale;
    const left = x < this.data.photo.width_px / 2 ? this.data.photo.width_px - side : 0;
    const reach = side / LOUPE_TIMES / 2;
    const shrink = this.picture.naturalWidth / this.data.photo.width_px;
    pen.drawImage(this.picture, (x - reach) * shrink, (y - reach) * shrink, 2 * reach * shrink, 2 * reach * shrink, left, 0, side, side);
    this.line([[left, 0], [left + side, 0], [left + side, side], [left, side]], true, 2);
    this.line([[left + side / 2, side * 0.35], [left + side / 2, side * 0.65]], false, 1);
    this.line([[left + side * 0.35, side / 2], [left + side * 0.65, side / 2]], false, 1);
  }

  // ---- what the person can do ----
  dress() {
    const { mode, words } = this.data;
    const draws = mode !== "look";
    this.canvas.classList.toggle("draws", draws);
    this.canvas.tabIndex = draws ? 0 : -1;
    this.canvas.setAttribute("role", draws ? "application" : "img");
    this.canvas.setAttribute("aria-label", this.data.photo.alt);
    this.fill(this.tools, words.tools ?? []);
    this.fill(this.moreTools, words.more_tools ?? []);
    this.more.classList.toggle("empty", !(words.more_tools ?? []).length);
    this.more.querySelector("summary").textContent = words.more ?? "";
  }

  fill(row, tools) {
    row.replaceChildren(
      ...tools.map(([does, text]) => {
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = text;
        button.dataset.does = does;
        button.onclick = () => this.act(does, KEY_STEP, 0);
        return button;
      }),
    );
  }

  listen() {
    this.canvas.addEventListener("pointerdown", (event) => this.press(event));
    this.canvas.addEventListener("pointermove", (event) => this.move(event));
    this.canvas.addEventListener("pointerup", (event) => this.lift(event));
    this.canvas.addEventListener("pointercancel", () => this.forget());
    this.canvas.addEventListener("keydown", (event) => this.key(event));
  }

  get zone() {
    return this.zones[this.selected];
  }

  press(event) {
    if (!this.data || this.data.mode === "look" || event.button > 0) return;
    event.preventDefault();
    this.canvas.classList.add("by-pointer"); // the frame of the focus is for those who came by keyboard
    this.canvas.focus({ preventScroll: true });
    this.canvas.setPointerCapture(event.pointerId);
    const at = this.toPhoto(event);
    this.start = at;
    this.before = this.zone ? JSON.stringify(this.zone.points) : "";
    this.grip = this.gripAt(at, event.pointerType);
    if (this.grip.kind === "vertex") this.point = this.grip.index;
    if (this.grip.kind === "vertex" || this.grip.kind === "spot") this.held = at;
    if (this.data.mode === "spot") this.spot = { ...(this.spot ?? this.firstSpot()), x_px: at[0], y_px: at[1] };
    this.draw();
  }

  gripAt(at, pointer) {
    if (this.data.mode === "spot") return { kind: "spot" };
    if (!this.zone) return { kind: "none" };
    const near = this.zone.points.map((p) => distance(p, at) * this.scale);
    const index = near.indexOf(Math.min(...near));
    const reach = pointer === "mouse" || near.length < 4 ? CLOSE_HIT_PX : VERTEX_HIT_PX;
    if (near.length && near[index] <= reach) return { kind: "vertex", index };
    if (this.zone.points.length < 3) return { kind: "lasso" };
    return { kind: inside(at, this.zone.points) ? "whole" : "none" };
  }

  move(event) {
    if (!this.start) return;
    const at = this.toPhoto(event);
    if (this.data.mode === "spot") {
      this.spot = { ...this.spot, x_px: at[0], y_px: at[1] };
      this.held = at;
    } else if (this.grip.kind === "vertex") {
      this.zone.points[this.grip.index] = at;
      this.held = at;
      this.moved = true;
    } else if (this.grip.kind === "lasso" && (this.lasso || distance(at, this.start) * this.scale > LASSO_STARTS_PX)) {
      this.lasso = [...(this.lasso ?? [this.start]), at];
    } else if (this.grip.kind === "whole" && (this.moved || distance(at, this.start) * this.scale > LASSO_STARTS_PX)) {
      this.shift(at[0] - this.start[0], at[1] - this.start[1]);
      this.start = at;
      this.moved = true;
    }
    this.draw();
  }

  lift(event) {
    if (!this.start) return;
    const at = this.toPhoto(event);
    const { grip, lasso, moved } = this;
    this.forget();
    if (this.data.mode === "spot") return this.tellSpot();
    if (lasso) return this.keepLasso(lasso);
    if (grip.kind === "vertex" || moved) return this.tell();
    this.tap(at);
  }

  forget() {
    this.start = this.lasso = this.grip = this.held = null;
    this.moved = false;
    this.draw();
  }

  keepLasso(path) {
    if (length(path) * this.scale < LEAST_LASSO_PX) return this.draw();
    this.zone.points = simplify(path, 4 / this.scale).slice(0, MOST_POINTS);
    this.point = 0;
    this.tell();
  }

  tap(at) {
    const other = this.zones.findIndex((z, i) => i !== this.selected && z.points.length > 2 && inside(at, z.points));
    const drawing = this.zone && this.zone.points.length < 3;
    if (other >= 0 && !drawing && !(this.zone && this.nearEdge(at) >= 0)) return this.choose(other);
    if (!this.zone || this.zone.points.length >= MOST_POINTS) return;
    const edge = this.zone.points.length > 2 ? this.nearEdge(at) : -1;
    this.point = edge >= 0 ? edge + 1 : this.zone.points.length;
    this.zone.points.splice(this.point, 0, at);
    this.tell();
  }

  nearEdge(at) {
    const { points } = this.zone;
    const near = points.map((p, i) => toSegment(at, p, points[(i + 1) % points.length]) * this.scale);
    const index = near.indexOf(Math.min(...near));
    return near[index] <= EDGE_HIT_PX ? index : -1;
  }

  choose(index) {
    this.selected = index;
    this.point = 0;
    this.draw();
    this.serial += 1;
    this.send("event", { kind: "choose", zone: index, serial: this.serial });
  }

  key(event) {
    const does = {
      ArrowUp: "up", ArrowDown: "down", ArrowLeft: "left", ArrowRight: "right", n: "next", p: "previous",
      a: "add", "+": "bigger", "-": "smaller", Delete: "remove", Backspace: "remove",
    }[event.key];
    if (!does || this.data.mode === "look" || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    this.canvas.classList.remove("by-pointer");
    this.act(does, event.shiftKey ? KEY_STEP / 5 : KEY_STEP, KEYS_REST_MS);
  }

  act(does, step, rest_ms) {
    const by = step * this.data.photo.width_px;
    const way = { up: [0, -by], down: [0, by], left: [-by, 0], right: [by, 0] }[does];
    if (this.data.mode === "spot") return this.actOnSpot(does, way, rest_ms);
    if (!this.zone) return;
    const { points } = this.zone;
    if (way && points.length) points[this.point] = this.within([points[this.point][0] + way[0], points[this.point][1] + way[1]]);
    else if (does === "next" && points.length) this.point = (this.point + 1) % points.length;
    else if (does === "previous" && points.length) this.point = (this.point + points.length - 1) % points.length;
    else if (does === "add") this.addPoint();
    else if (does === "remove" && points.length) points.splice(this.point, 1);
    this.point = Math.min(this.point, Math.max(points.length - 1, 0));
    this.draw();
    if (does !== "next" && does !== "previous") this.later(() => this.tell(), rest_ms);
    else this.tellWhere();
  }

  actOnSpot(does, way, rest_ms) {
    const spot = this.spot ?? this.firstSpot();
    const times = { bigger: 1.25, smaller: 0.8 }[does] ?? 1;
    const [x_px, y_px] = this.within([spot.x_px + (way?.[0] ?? 0), spot.y_px + (way?.[1] ?? 0)]);
    const most = this.data.photo.width_px / 6;
    this.spot = { x_px, y_px, radius_px: Math.min(Math.max(spot.radius_px * times, 6), most) };
    this.draw();
    this.later(() => this.tellSpot(), rest_ms);
  }

  firstSpot() {
    const { width_px: wide, height_px: high } = this.data.photo;
    return { x_px: wide / 2, y_px: high / 2, radius_px: wide / 40 };
  }

  // Without a mouse: a small square in the middle to begin with, then a point half way to the next one.
  addPoint() {
    const { points } = this.zone;
    const { width_px: wide, height_px: high } = this.data.photo;
    if (points.length < 3) {
      const half = Math.min(wide, high) / 8;
      const [x, y] = [wide / 2, high / 2];
      this.zone.points = [[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]];
      this.point = 0;
    } else if (points.length < MOST_POINTS) {
      const [p, q] = [points[this.point], points[(this.point + 1) % points.length]];
      points.splice(this.point + 1, 0, [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2]);
      this.point += 1;
    }
  }

  within([x, y]) {
    const { width_px: wide, height_px: high } = this.data.photo;
    return [Math.min(Math.max(x, 0), wide), Math.min(Math.max(y, 0), high)];
  }

  shift(dx, dy) {
    const moved = this.zone.points.map(([x, y]) => [x + dx, y + dy]);
    if (moved.every((p) => distance(p, this.within(p)) === 0)) this.zone.points = moved;
  }

  // ---- telling Python ----
  later(tell, rest_ms) {
    clearTimeout(this.waiting);
    if (rest_ms) this.waiting = setTimeout(tell, rest_ms);
    else tell();
  }

  tellWhere() {
    const { points } = this.zone;
    this.say.textContent = points.length ? `Point ${this.point + 1} of ${points.length}` : "";
  }

  tell() {
    this.tellWhere();
    this.draw();
    this.serial += 1;
    const points = this.zone.points.map(([x, y]) => [Math.round(x * 10) / 10, Math.round(y * 10) / 10]);
    this.send("event", { kind: "outline", zone: this.selected, points, serial: this.serial });
  }

  tellSpot() {
    this.draw();
    this.serial += 1;
    this.send("event", { kind: "spot", ...this.spot, serial: this.serial });
  }
}

function labelPlaces(points, size) {
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  const x = (Math.min(...xs) + Math.max(...xs)) / 2;
  const [top, bottom] = [Math.min(...ys), Math.max(...ys)];
  return [[x, top - size], [x, (top + bottom) / 2], [x, bottom + size], [x, top * 0.7 + bottom * 0.3], [x, top * 0.3 + bottom * 0.7]];
}

function distance([x1, y1], [x2, y2]) {
  return Math.hypot(x1 - x2, y1 - y2);
}

function length(path) {
  return path.slice(1).reduce((sum, p, i) => sum + distance(p, path[i]), 0);
}

function toSegment(at, p, q) {
  const square = distance(p, q) ** 2 || 1;
  const share = Math.min(Math.max(((at[0] - p[0]) * (q[0] - p[0]) + (at[1] - p[1]) * (q[1] - p[1])) / square, 0), 1);
  return distance(at, [p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1])]);
}

function inside([x, y], points) {
  let odd = false;
  points.forEach(([x1, y1], i) => {
    const [x2, y2] = points[(i + 1) % points.length];
    if (y1 > y !== y2 > y && x < ((x2 - x1) * (y - y1)) / (y2 - y1) + x1) odd = !odd;
  });
  return odd;
}

// Keeps the corners of a path and drops what lies within `slack` of the straight line between them.
function simplify(path, slack) {
  if (path.length < 3) return path;
  const [first, last] = [path[0], path[path.length - 1]];
  const off = path.map((p) => toSegment(p, first, last));
  const far = off.indexOf(Math.max(...off));
  if (off[far] <= slack) return [first, last];
  return [...simplify(path.slice(0, far + 1), slack).slice(0, -1), ...simplify(path.slice(far), slack)];
}
