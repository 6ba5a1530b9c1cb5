// SPDX-License-Identifier: MIT
import { Camera, Geometry, Mesh, Orbit, Program, Renderer, Sphere, Transform, Vec3 } from "ogl";
import { button } from "./controls.js";
import { html } from "./element.js";
import { height_parts } from "./colours.js";

const placed = `gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);`;
const common = `attribute vec3 position; uniform mat4 modelViewMatrix, projectionMatrix;`;
const coloured = {
  vertex: `${common} attribute vec3 colour; varying vec3 c; void main() { c = colour; ${placed} }`,
  fragment: `precision mediump float; varying vec3 c; void main() { gl_FragColor = vec4(c, 1.0); }`,
};
const plain = {
  vertex: `${common} void main() { ${placed} }`,
  fragment: `precision mediump float; uniform vec3 tint; void main() { gl_FragColor = vec4(tint, 1.0); }`,
};

/** Corners of the fine grid as points of a box 2 wide, 2 deep and 1 high. */
function points_of(map, part) {
  const rows = map.fine_speed_rpm, columns = map.fine_throttle_pct;
  const along = (list, value) => (2 * (value - list[0])) / (list.at(-1) - list[0]) - 1;
  const spot = (speed, throttle, fuel) => [along(rows, speed), part(fuel) - 0.5, -along(columns, throttle)];
  const position = [], colour = [], faces = [], edges = [];
  rows.forEach((speed, i) => columns.forEach((throttle, k) => {
    const fuel = map.fine_fuel_mg[i * columns.length + k];
    position.push(...spot(speed, throttle, fuel));
    colour.push(...height_parts(0.1 + 0.9 * part(fuel)).map((byte) => byte / 255));
  }));
  const at = (i, k) => i * columns.length + k;
  for (let i = 1; i < rows.length; ++i)
    for (let k = 1; k < columns.length; ++k)
      faces.push(at(i - 1, k - 1), at(i, k - 1), at(i, k), at(i - 1, k - 1), at(i, k), at(i - 1, k));
  rows.forEach((speed, i) => map.speed_rpm.includes(speed) && columns.slice(1).forEach((_, k) => edges.push(at(i, k), at(i, k + 1))));
  columns.forEach((pct, k) => map.throttle_pct.includes(pct) && rows.slice(1).forEach((_, i) => edges.push(at(i, k), at(i + 1, k))));
  return { spot, position, colour, faces, edges };
}

function scene_of(gl, shape) {
  const scene = new Transform();
  const position = () => ({ size: 3, data: new Float32Array(shape.position) }); // of its own for each geometry
  const of_colour = (...tint) => new Program(gl, { ...plain, uniforms: { tint: { value: new Vec3(...tint) } } });
  const geometry = (faces, more = {}) => new Geometry(gl, { position: position(), index: { data: new Uint16Array(faces) }, ...more });
  const colour = { size: 3, data: new Float32Array(shape.colour) };
  new Mesh(gl, { geometry: geometry(shape.faces, { colour }), program: new Program(gl, { ...coloured, cullFace: false }) }).setParent(scene);
  const lines = new Mesh(gl, { mode: gl.LINES, geometry: geometry(shape.edges), program: of_colour(0.11, 0.14, 0.16) });
  lines.position.y = 0.004;
  lines.setParent(scene);
  const marker = new Mesh(gl, { geometry: new Sphere(gl, { radius: 0.045 }), program: of_colour(0.7, 0.35, 0) });
  marker.setParent(scene);
  return { scene, marker };
}

/** What turns, in its place; a sentence where the browser draws no surfaces. */
function turning(place, { title, map, part }) {
  let renderer;
  try {
    renderer = new Renderer({ dpr: Math.min(2, devicePixelRatio), alpha: true, antialias: true });
  } catch {
    renderer = null;
  }
  if (!renderer?.gl) {
    place.append(html("p", {}, "This browser draws no surfaces here (no WebGL). The picture above shows the same numbers."));
    return { point() {}, close() {} };
  }
  const { gl } = renderer, shape = points_of(map, part), { scene, marker } = scene_of(gl, shape);
  gl.canvas.setAttribute("role", "img");
  gl.canvas.setAttribute("aria-label", `${title}: fuel rises with throttle; towards high speed the rise comes later`);
  const camera = new Camera(gl, { fov: 30 });
  camera.position.set(-2.6, 2.1, 3.6);
  const orbit = new Orbit(camera, { element: gl.canvas, enablePan: false, enableZoom: false, target: new Vec3(0, -0.05, 0) });
  const draw = () => {
    orbit.update();
    renderer.render({ scene, camera });
  };
  let frames = 0, open = true;
  const settle = () => {
    if (!open || frames-- <= 0) return;
    draw();
    requestAnimationFrame(settle);
  };
  const wake = () => {
    const asleep = frames <= 0;
    frames = 60;
    if (asleep) requestAnimationFrame(settle);
  };
  const turn = (angle) => {
    const { x, z } = camera.position;
    camera.position.set(x * Math.cos(angle) - z * Math.sin(angle), camera.position.y, x * Math.sin(angle) + z * Math.cos(angle));
    orbit.forcePosition();
    wake();
  };
  for (const event of ["pointerdown", "pointermove", "touchmove", "mousemove"]) gl.canvas.addEventListener(event, wake);
  const size = new ResizeObserver(([{ contentRect }]) => {
    const height = Math.min(420, Math.max(220, 0.55 * contentRect.width));
    renderer.setSize(contentRect.width, height);
    gl.canvas.style.width = "100%";
    camera.perspective({ aspect: contentRect.width / height });
    wake();
  });
  place.append(gl.canvas, html("div", { class: "row" }, button("Turn left", () => turn(0.3)), button("Turn right", () => turn(-0.3))));
  size.observe(place);
  return {
    point(speed, throttle, fuel) {
      marker.visible = fuel !== null;
      if (fuel !== null) marker.position.set(...shape.spot(speed, throttle, fuel));
      wake();
    },
    close() {
      open = false;
      size.disconnect();
      orbit.remove();
      gl.getExtension("WEBGL_lose_context")?.loseContext();
    },
  };
}

/**
 * A map that one can turn, with a pointer or by its buttons. It is made when the rest of the picture stands: some browsers
 * take half a second to begin.
 */
export function surface(what) {
  const place = html("div", { class: "turn", "data-surface": what.name });
  let made = null, last = null, open = true;
  requestAnimationFrame(() => setTimeout(() => {
    if (!open) return;
    made = turning(place, what);
    if (last) made.point(...last);
  }));
  return {
    node: html("figure", {}, html("figcaption", {}, what.title), place),
    point(...at) {
      last = at;
      made?.point(...at);
    },
    close() {
      open = false;
      made?.close();
    },
  };
}
