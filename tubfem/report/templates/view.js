"use strict";
// The tub in three dimensions. All colours come from arrays that the page holds; ply strains are worked out here.
const VIEW = (() => {
  const { data, make } = PAGE;
  const scene = data.scene;
  const SMOOTHED = 20000; // elements up to which edges are smoothed: without a graphics card it doubles the time
  const COARSER = 2.5; // edges: how large the cells are of the tub that stands for a larger one while it turns
  const NONE = -1e30; // a value that is not there; drawn grey
  const at = (id) => document.getElementById(id);

  const { floats, words } = PAGE;
  const points = floats(scene.points), corners = PAGE.integers(scene.corners);
  const panel = words(scene.panel), region = words(scene.region), mixture = words(scene.mixture);
  const thickness = floats(scene.thickness), elements = corners.length / 4;
  const cases = {};
  for (const [name, found] of Object.entries(scene.load_cases)) {
    const joints = Object.entries(found.joints).map(([joint, j]) => ({ name: joint, kind: j.kind, at: floats(j.at), flow: floats(j.flow) }));
    cases[name] = {
      displacement: floats(found.displacement), bars: floats(found.bars), strain: floats(found.strain), margin: floats(found.margin), energy: floats(found.energy),
      generalised: floats(found.generalised), kind: words(found.kind), kinds: found.kinds, hands: found.both_hands, joints,
    };
  }
  let current = Object.keys(cases)[0];

  // Strain (e1, e2, g12) of a ply in its own axes; face 0 is nearer to the tool, 1 farther from it.
  function plyStrain(name, element, stack, ply, face) {
    const g = cases[name].generalised, o = 8 * element;
    const [, angle, low, high] = scene.stacks[stack][ply];
    const z = face ? high : low, c = Math.cos(angle), s = Math.sin(angle);
    const x = g[o] + z * g[o + 3], y = g[o + 1] + z * g[o + 4], xy = g[o + 2] + z * g[o + 5];
    return [x * c * c + y * s * s + xy * s * c, x * s * s + y * c * c - xy * s * c, 2 * (y - x) * s * c + xy * (c * c - s * s)];
  }

  const COMPONENTS = ["along the fibres", "across them", "shear"];
  const WHERE = ["ply at the tool", "ply at the far face", "worst of all plies"];

  function plyField(name, component, where) {
    const out = new Float32Array(elements);
    for (let e = 0; e < elements; e++) {
      let best = 0;
      for (const [stack] of scene.mixtures[mixture[e]]) {
        const plies = scene.stacks[stack];
        const wanted = where === 0 ? [[0, 0]] : where === 1 ? [[plies.length - 1, 1]] : plies.flatMap((p, i) => (p[4] ? [] : [[i, 0], [i, 1]]));
        for (const [ply, face] of wanted) {
          const value = plyStrain(name, e, stack, ply, face)[component];
          if (Math.abs(value) > Math.abs(best)) best = value;
        }
      }
      out[e] = best;
    }
    return out;
  }

  // Colours that stay apart for colour-blind readers: Okabe and Ito's eight, then the same lighter and darker.
  const EIGHT = ["#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7", "#8c8c8c"];
  const shade = (hex, by) => [1, 3, 5].map((i) => { const c = parseInt(hex.slice(i, i + 2), 16) / 255; return by >= 0 ? c + (1 - c) * by : c * (1 + by); });
  const category = (i) => shade(EIGHT[i % 8], [0, 0.5, -0.4, 0.75, -0.6][Math.floor(i / 8) % 5]);
  const hexes = (list) => list.map((hex) => shade(hex, 0));
  // Perceptually even from dark to light; from blue over white to orange; from a warning to nothing to say.
  const EVEN = hexes(["#440154", "#482878", "#3e4989", "#31688e", "#26828e", "#1f9e89", "#35b779", "#6ece58", "#b5de2b", "#fde725"]);
  const TWO_WAYS = hexes(["#08306b", "#2f79b5", "#8fc1de", "#f2f0eb", "#f5b56b", "#d8701b", "#7f3105"]);
  const WARNING = hexes(["#5c1a00", "#9c3f00", "#d07420", "#e8ad6a", "#f0d6b4", "#eee9e0"]);

  // What can be shown as colours: values by element, how they are written, and which colours.
  const FIELDS = {
    region: { title: "region", names: () => scene.regions, values: () => region },
    thickness: { title: "thickness", kind: "length", values: () => thickness },
  };
  if (current !== undefined) {
    const of = () => cases[current];
    Object.assign(FIELDS, {
      margin: { title: "lowest margin", kind: "plain", low: 0, high: 5, stops: WARNING, values: () => of().margin },
      kind: { title: "what governs the margin", names: () => of().kinds, values: () => of().kind },
      strain: { title: "largest strain at the faces", kind: "strain", low: 0, values: () => of().strain },
      ply: { title: "ply strain", kind: "strain", signed: true, parts: true, values: () => plyField(current, ...part()) },
      energy: { title: "strain energy per area", kind: "energy_density", low: 0, values: () => of().energy },
      flow: { title: "shear flow of joints", kind: "line_force", low: 0, joints: true, values: () => null },
    });
  }
  const part = () => at("part").value.split(",").map(Number);

  function ramp(stops, t) {
    const place = Math.min(Math.max(t, 0), 1) * (stops.length - 1), i = Math.min(Math.floor(place), stops.length - 2);
    return stops[i].map((c, k) => c + (stops[i + 1][k] - c) * (place - i));
  }

  function quantile(values, share) {
    const sorted = Float32Array.from(values).sort();
    return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
  }

  function tableOf(field, values) {
    const table = make("table"), head = make("thead"), row = make("tr"), body = make("tbody");
    table.append(make("caption", `${field.title}, ${field.kind === "plain" ? "" : PAGE.unit(field.kind) || ""} by region`), head, body);
    for (const text of ["region", "least", "mean", "greatest"]) row.append(make("th", text, { scope: "col", class: text === "region" ? "" : "r" }));
    head.append(row);
    scene.regions.forEach((name, index) => {
      let low = Infinity, high = -Infinity, sum = 0, count = 0;
      for (let e = 0; e < elements; e++) if (region[e] === index) { low = Math.min(low, values[e]); high = Math.max(high, values[e]); sum += values[e]; count++; }
      const line = make("tr");
      line.append(make("th", name, { scope: "row" }));
      for (const value of [low, field.kind === "plain" ? null : sum / count, high]) {
        line.append(make("td", value === null ? "–" : field.kind === "plain" ? PAGE.margin(value) : PAGE.number(value, field.kind), { class: "r" }));
      }
      body.append(line);
    });
    return table;
  }

  function countsOf(field, values, names) {
    const table = make("table"), body = make("tbody");
    table.append(make("caption", `${field.title}: share of elements`), body);
    names.forEach((name, index) => {
      const line = make("tr");
      line.append(make("th", name, { scope: "row" }), make("td", `${((100 * values.reduce((n, v) => n + (v === index), 0)) / elements).toFixed(1)} %`, { class: "r" }));
      body.append(line);
    });
    return table;
  }

  // ---- drawing ----
  const canvas = at("stage");
  let renderer;
  try {
    renderer = new THREE.WebGLRenderer({ canvas, antialias: elements < SMOOTHED, preserveDrawingBuffer: true });
  } catch (error) {
    return { plyStrain, plyField, drawn: false };
  }
  at("view").hidden = false;
  at("no-view").hidden = true;

  const uniforms = {
    times: { value: 0 }, low: { value: 0 }, high: { value: 1 }, names: { value: 0 }, picked: { value: -1 }, plain: { value: 0 },
    cut: { value: new THREE.Vector3() }, cutAt: { value: 1e9 }, colours: { value: null }, below: { value: new THREE.Color(0.8, 0.1, 0.45) },
    ink: { value: new THREE.Color() }, ground: { value: new THREE.Color() },
  };
  const MOVE = `attribute vec3 move; uniform float times; varying vec3 place; varying vec3 eye;
    vec4 moved() { place = position + times * move; vec4 seen = modelViewMatrix * vec4(place, 1.0); eye = seen.xyz; return projectionMatrix * seen; }`;
  const CUT = "varying vec3 place; varying vec3 eye; uniform vec3 cut; uniform float cutAt;\n" +
    "#ifdef CUTS\nvoid keep() { if (dot(place, cut) > cutAt) discard; }\n#else\nvoid keep() {}\n#endif\n"; // a shader that may discard is slow
  const skin = new THREE.ShaderMaterial({
    uniforms, side: THREE.DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
    vertexShader: `${MOVE} attribute float value; attribute float group; varying float shown; varying float mine;
      void main() { shown = value; mine = group; gl_Position = moved(); }`,
    fragmentShader: `${CUT} uniform sampler2D colours; uniform vec3 below; uniform vec3 ground; uniform float low, high, names, picked, plain; varying float shown; varying float mine;
      void main() { keep();
        vec3 normal = normalize(cross(dFdx(eye), dFdy(eye)));
        float light = 0.62 + 0.38 * abs(dot(normal, normalize(vec3(0.25, 0.35, 1.0))));
        float t = names > 0.0 ? (floor(shown + 0.5) + 0.5) / 256.0 : clamp((shown - low) / (high - low), 0.002, 0.998);
        vec3 colour = texture2D(colours, vec2(t, 0.5)).rgb;
        if (names < 0.5 && plain < 0.5 && low == 0.0 && shown < 0.0) colour = below;
        if (shown < -1e29 || plain > 0.5) colour = mix(ground, vec3(0.55), 0.35);
        if (picked > -0.5 && abs(mine - picked) > 0.5) colour = mix(colour, ground, 0.4);
        gl_FragColor = vec4(colour * light, 1.0); }`,
  });
  const wire = new THREE.ShaderMaterial({
    uniforms, side: THREE.DoubleSide, vertexShader: `${MOVE} void main() { gl_Position = moved(); }`,
    fragmentShader: `${CUT} uniform vec3 ink; void main() { keep(); gl_FragColor = vec4(ink, 1.0); }`,
  });
  const dots = (size, mark = uniforms.ink) => new THREE.ShaderMaterial({
    uniforms: { ...uniforms, mark, size: { value: size } },
    vertexShader: `${MOVE} attribute float value; uniform float size; varying float shown; void main() { shown = value; gl_Position = moved(); gl_PointSize = size; }`,
    fragmentShader: `${CUT} uniform sampler2D colours; uniform vec3 mark; uniform float low, high; varying float shown;
      void main() { keep(); if (length(gl_PointCoord - 0.5) > 0.5) discard;
        gl_FragColor = vec4(shown < -1e29 ? mark : texture2D(colours, vec2(clamp((shown - low) / (high - low), 0.002, 0.998), 0.5)).rgb, 1.0); }`,
  });

  // Two triangles a quadrilateral; elements do not share corners, so that every one has its own colour.
  const isFour = (e) => corners[4 * e + 3] !== corners[4 * e + 2];
  let fours = 0;
  for (let e = 0; e < elements; e++) fours += isFour(e);
  const nodeOf = new Uint32Array(3 * elements + fours), ownerOf = new Uint32Array(nodeOf.length);
  const elementOf = new Uint32Array(elements + fours), faces = new Uint32Array(3 * elementOf.length), corner = new Uint32Array(faces.length);
  for (let e = 0, node = 0, triangle = 0; e < elements; e++) {
    const first = node;
    for (let k = 0; k < (isFour(e) ? 4 : 3); k++) { nodeOf[node] = corners[4 * e + k]; ownerOf[node++] = e; }
    for (const three of isFour(e) ? [[0, 1, 2], [0, 2, 3]] : [[0, 1, 2]]) {
      three.forEach((k, i) => { faces[3 * triangle + i] = first + k; corner[3 * triangle + i] = nodeOf[first + k]; });
      elementOf[triangle++] = e;
    }
  }
  const spread = (source, nodes) => {
    const out = new Float32Array(3 * nodes.length);
    for (let i = 0; i < nodes.length; i++) for (let k = 0; k < 3; k++) out[3 * i + k] = source[3 * nodes[i] + k];
    return out;
  };
  const perCorner = (values) => { const out = new Float32Array(ownerOf.length); for (let i = 0; i < out.length; i++) out[i] = values[ownerOf[i]]; return out; };
  const attribute = (array, size) => new THREE.BufferAttribute(array, size);

  function borders() {
    const seen = new Map(), out = [], total = points.length / 3;
    for (let e = 0; e < elements; e++) for (let k = 0; k < 4; k++) {
      const a = corners[4 * e + k], b = corners[4 * e + ((k + 1) % 4)];
      if (a === b) continue;
      const key = Math.min(a, b) * total + Math.max(a, b), before = seen.get(key);
      seen.set(key, before === undefined ? panel[e] : before === panel[e] ? -1 : -2);
    }
    for (const [key, owner] of seen) if (owner !== -1) out.push(Math.floor(key / total), key % total);
    return Uint32Array.from(out);
  }

  const world = new THREE.Scene(), camera = new THREE.PerspectiveCamera(28, 1, 0.01, 200);
  camera.up.set(0, 0, 1);
  const borderNodes = borders();
  function solid(nodes, extra) {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", attribute(spread(points, nodes), 3));
    geometry.setAttribute("move", attribute(new Float32Array(3 * nodes.length), 3));
    for (const [name, array] of Object.entries(extra)) geometry.setAttribute(name, attribute(array, 1));
    return geometry;
  }
  const tub = new THREE.Mesh(solid(nodeOf, { value: new Float32Array(nodeOf.length), group: perCorner(region) }), skin);
  tub.geometry.setIndex(attribute(faces, 1));
  const edges = new THREE.LineSegments(solid(borderNodes, {}), wire);

  // A coarser tub to turn where there is no graphics card to speak of: nodes of one cell of space are one, and what
  // then is no triangle any more, or stands there already, is left out.
  function coarser() {
    let total = 0;
    for (let t = 0; t < corner.length; t += 3) total += Math.hypot(...[0, 1, 2].map((k) => points[3 * corner[t] + k] - points[3 * corner[t + 1] + k]));
    const cell = (COARSER * total) / (corner.length / 3), of = new Map(), first = new Uint32Array(points.length / 3);
    for (let i = 0; i < first.length; i++) {
      const key = [0, 1, 2].map((k) => Math.round(points[3 * i + k] / cell)).join();
      if (!of.has(key)) of.set(key, i);
      first[i] = of.get(key);
    }
    const nodes = [], owners = [], seen = new Set();
    for (let t = 0; t < corner.length; t += 3) {
      const [a, b, c] = [first[corner[t]], first[corner[t + 1]], first[corner[t + 2]]];
      if (a === b || b === c || c === a) continue;
      const key = [a, b, c].sort((x, y) => x - y).join();
      if (seen.has(key)) continue;
      seen.add(key);
      nodes.push(a, b, c);
      owners.push(...Array(3).fill(elementOf[t / 3]));
    }
    const extra = { value: new Float32Array(nodes.length), group: Float32Array.from(owners, (e) => region[e]) };
    const mesh = new THREE.Mesh(solid(nodes, extra), skin);
    mesh.visible = false;
    return { mesh, nodes, owners };
  }
  const coarse = elements < SMOOTHED ? null : coarser();
  function moving(on) {
    if (!coarse) return;
    coarse.mesh.visible = on;
    tub.visible = edges.visible = !on;
  }
  const flat = (positions, values) => {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", attribute(Float32Array.from(positions), 3));
    geometry.setAttribute("move", attribute(new Float32Array(positions.length), 3));
    geometry.setAttribute("value", attribute(Float32Array.from(values), 1));
    return geometry;
  };
  // Tubes and stiffeners as six-sided bars, drawn in ink.
  const bars = floats(scene.bars), radii = floats(scene.bar_radii), endOf = [], cornersOfBars = [];
  for (let b = 0; b < radii.length; b++) {
    const axis = new THREE.Vector3(...[0, 1, 2].map((k) => bars[6 * b + 3 + k] - bars[6 * b + k])).normalize();
    const one = new THREE.Vector3(...(Math.abs(axis.z) < 0.9 ? [0, 0, 1] : [1, 0, 0])).cross(axis).normalize(), other = axis.clone().cross(one);
    for (let side = 0; side < 6; side++) for (const [end, step] of [[0, 0], [0, 1], [1, 1], [0, 0], [1, 1], [1, 0]]) {
      const turn = ((side + step) * Math.PI) / 3;
      endOf.push(2 * b + end);
      for (let k = 0; k < 3; k++) cornersOfBars.push(bars[6 * b + 3 * end + k] + radii[b] * (Math.cos(turn) * one.getComponent(k) + Math.sin(turn) * other.getComponent(k)));
    }
  }
  const tubes = new THREE.Mesh(flat(cornersOfBars, endOf.map(() => NONE)), wire);
  const marks = new THREE.Points(flat(scene.marks.flatMap((m) => m.at), scene.marks.map(() => NONE)), dots(9));
  const flows = new THREE.Points(flat([], []), dots(8));
  const ruler = new THREE.LineSegments(flat([0, 0, 0, 0, 0, 0], [NONE, NONE]), wire), ends = new THREE.Points(flat([0, 0, 0, 0, 0, 0], [NONE, NONE]), dots(11));
  const chosen = new THREE.Points(flat([], []), dots(9, uniforms.below));
  ruler.visible = ends.visible = flows.visible = false;
  const things = [tub, ...(coarse ? [coarse.mesh] : []), edges, tubes, marks, flows, chosen, ruler, ends];
  for (const thing of things) { thing.material.defines ??= {}; thing.frustumCulled = false; world.add(thing); }

  const box = { low: [Infinity, Infinity, Infinity], high: [-Infinity, -Infinity, -Infinity] };
  for (let i = 0; i < points.length; i++) { box.low[i % 3] = Math.min(box.low[i % 3], points[i]); box.high[i % 3] = Math.max(box.high[i % 3], points[i]); }
  const middle = box.low.map((c, k) => (c + box.high[k]) / 2), size = Math.hypot(...box.low.map((c, k) => box.high[k] - c));

  const controls = new THREE.OrbitControls(camera, canvas);
  controls.enableDamping = false;
  controls.minDistance = 0.02 * size;
  controls.maxDistance = 6 * size;

  const LOOKS = { iso: [-0.75, 0.9, 0.62], side: [0, 1, 0.0001], top: [0, -0.0001, 1], front: [-1, 0, 0.0001] };
  function look(name) {
    const away = new THREE.Vector3(...LOOKS[name]).normalize(), right = new THREE.Vector3(0, 0, 1).cross(away).normalize(), up = away.clone().cross(right);
    const high = Math.tan((camera.fov * Math.PI) / 360), wide = high * camera.aspect;
    let distance = 0; // as near as all corners of the tub's box are in sight
    for (let k = 0; k < 8; k++) {
      const corner = new THREE.Vector3(...[0, 1, 2].map((c) => (k & (1 << c) ? box.high[c] : box.low[c]) - middle[c]));
      distance = Math.max(distance, corner.dot(away) + (1.06 * Math.abs(corner.dot(right))) / wide, corner.dot(away) + (1.06 * Math.abs(corner.dot(up))) / high);
    }
    controls.target.set(...middle);
    camera.position.set(...middle.map((c, k) => c + away.getComponent(k) * distance));
    controls.update();
    draw();
  }

  // Frames are drawn only when something changes; while it turns slowly, with fewer pixels.
  const STILL = 500; // ms without a turn, after which everything is drawn again
  let waiting = false, last = 0, ratio = 1, still = 0, slow = false;
  const full = () => Math.min(window.devicePixelRatio || 1, 2);
  function draw() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; renderer.render(world, camera); });
  }
  controls.addEventListener("change", () => {
    const now = performance.now();
    const late = last && now - last > 45 && now - last < 2 * STILL;
    slow ||= Boolean(late);
    if (slow) moving(true);
    if (late && ratio > 0.4) { ratio = Math.max(0.4, ratio * 0.75); renderer.setPixelRatio(ratio); }
    last = now;
    clearTimeout(still);
    still = setTimeout(() => {
      last = 0;
      if (ratio === full() && tub.visible) return;
      moving(false);
      ratio = full();
      renderer.setPixelRatio(ratio);
      draw();
    }, STILL);
    draw();
  });
  function fit() {
    const { clientWidth: w, clientHeight: h } = canvas.parentElement;
    if (!w || !h) return;
    renderer.setSize(w, h, false);
    camera.aspect = w / h;
    camera.updateProjectionMatrix();
    draw();
  }
  new ResizeObserver(fit).observe(canvas.parentElement);

  function theme() {
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => new THREE.Color(style.getPropertyValue(name).trim());
    renderer.outputColorSpace = "srgb-linear"; // colours go to the screen as they are written
    renderer.setClearColor(colour("--sheet").convertLinearToSRGB(), 1);
    uniforms.ink.value = colour("--ink").convertLinearToSRGB();
    uniforms.ground.value = colour("--sheet").convertLinearToSRGB();
    draw();
  }
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", theme);

  let fullTimes = 1; // magnification at the end of the slider: the largest movement is an eighth of the tub
  let shownField = "region", values = region, limits = [0, 1];

  function paint() {
    const field = FIELDS[shownField], names = field.names ? field.names() : null;
    at("part-label").hidden = !field.parts;
    flows.visible = Boolean(field.joints);
    uniforms.plain.value = field.joints ? 1 : 0;
    if (field.joints) {
      const joints = cases[current].joints;
      values = Float32Array.from(joints.flatMap((j) => [...j.flow].map(Math.abs)));
      flows.geometry.dispose();
      flows.geometry = flat(joints.flatMap((j) => [...j.at]), values);
    } else values = field.values();
    const texture = new Uint8Array(4 * 256), stops = field.stops ?? (field.signed ? TWO_WAYS : EVEN);
    for (let i = 0; i < 256; i++) {
      const c = names ? category(i) : ramp(stops, i / 255);
      texture.set([...c.map((v) => Math.round(255 * v)), 255], 4 * i);
    }
    uniforms.colours.value?.dispose();
    uniforms.colours.value = new THREE.DataTexture(texture, 256, 1);
    uniforms.colours.value.needsUpdate = true;
    uniforms.names.value = names ? 1 : 0;
    if (!names) {
      const top = field.high ?? quantile(field.signed ? values.map(Math.abs) : values, 0.995);
      limits = field.signed ? [-top, top] : [field.low ?? quantile(values, 0), top];
      if (limits[1] <= limits[0]) limits[1] = limits[0] + 1e-9;
      [uniforms.low.value, uniforms.high.value] = limits;
    }
    if (!field.joints) {
      tub.geometry.attributes.value.array.set(perCorner(values));
      tub.geometry.attributes.value.needsUpdate = true;
      if (coarse) { coarse.mesh.geometry.attributes.value.array.set(coarse.owners.map((e) => values[e])); coarse.mesh.geometry.attributes.value.needsUpdate = true; }
    }
    legend(field, names, stops);
    const table = at("field-table");
    table.replaceChildren(field.joints ? make("p", "Joint by joint, the peaks stand in the table under Joints.") : names ? countsOf(field, values, names) : tableOf(field, values));
    draw();
  }

  function legend(field, names, stops) {
    const box = at("legend");
    box.replaceChildren(make("strong", field.title + (names || !PAGE.unit(field.kind) ? "" : `, ${PAGE.unit(field.kind)}`)));
    if (names) {
      const list = make("ul");
      names.forEach((name, i) => {
        const line = make("li"), swatch = make("span", "", { class: "swatch" });
        swatch.style.background = `rgb(${category(i).map((c) => Math.round(255 * c)).join(",")})`;
        line.append(swatch, name);
        list.append(line);
      });
      box.append(list);
      return;
    }
    const strip = make("canvas", undefined, { width: 256, height: 1, "aria-hidden": "true" }), pen = strip.getContext("2d");
    for (let i = 0; i < 256; i++) {
      pen.fillStyle = `rgb(${ramp(stops, i / 255).map((c) => Math.round(255 * c)).join(",")})`;
      pen.fillRect(i, 0, 1, 1);
    }
    const marksOf = make("div", undefined, { class: "ends" });
    for (const value of [limits[0], (limits[0] + limits[1]) / 2, limits[1]]) marksOf.append(make("span", PAGE.number(value, field.kind)));
    let greatest = -Infinity;
    for (const value of values) greatest = Math.max(greatest, Math.abs(value));
    const note = field.kind === "plain" ? "0 is just enough; below it magenta, above 5 the last colour" : `greatest ${PAGE.quantity(greatest, field.kind)}; colours end at 99.5 % of the ${field.joints ? "points" : "elements"}`;
    box.append(strip, marksOf, make("div", note, { class: "soft" }));
  }

  function setCase(name) {
    current = name;
    const u = cases[name].displacement;
    tub.geometry.attributes.move.array.set(spread(u, nodeOf));
    edges.geometry.attributes.move.array.set(spread(u, borderNodes));
    tubes.geometry.attributes.move.array.set(spread(cases[name].bars, endOf));
    if (coarse) { coarse.mesh.geometry.attributes.move.array.set(spread(u, coarse.nodes)); coarse.mesh.geometry.attributes.move.needsUpdate = true; }
    tubes.geometry.attributes.move.needsUpdate = tub.geometry.attributes.move.needsUpdate = edges.geometry.attributes.move.needsUpdate = true;
    let most = 1e-12;
    for (let i = 0; i < u.length; i += 3) most = Math.max(most, Math.hypot(u[i], u[i + 1], u[i + 2]));
    fullTimes = (0.12 * size) / most;
    setScale();
    paint();
  }
  function setScale() {
    const share = Number(at("scale").value) / 100;
    uniforms.times.value = share * fullTimes;
    at("times").textContent = share ? `${PAGE.three(share * fullTimes)} times` : "none";
    draw();
  }

  function setCut() {
    const axis = at("cut-axis").value;
    at("cut-label").hidden = axis === "";
    uniforms.cutAt.value = 1e9;
    for (const thing of things) {
      if (("CUTS" in thing.material.defines) === (axis !== "")) continue;
      thing.material.defines = axis === "" ? {} : { CUTS: 1 };
      thing.material.needsUpdate = true;
    }
    if (axis !== "") {
      const k = Number(axis), value = box.low[k] + (Number(at("cut").value) / 1000) * (box.high[k] - box.low[k]) * 1.0001;
      uniforms.cut.value.set(k === 0 ? 1 : 0, k === 1 ? 1 : 0, k === 2 ? 1 : 0);
      uniforms.cutAt.value = value;
      at("cut-at").textContent = `${PAGE.place([value])} ${PAGE.unit("length")}`;
    }
    draw();
  }

  // The element under a place of the canvas: the ray meets the triangles as they are drawn, moved and cut.
  function hit(x, y) {
    const move = cases[current]?.displacement, times = uniforms.times.value, rect = canvas.getBoundingClientRect();
    const ray = new THREE.Raycaster();
    ray.setFromCamera(new THREE.Vector2((2 * (x - rect.left)) / rect.width - 1, 1 - (2 * (y - rect.top)) / rect.height), camera);
    const o = ray.ray.origin.toArray(), d = ray.ray.direction.toArray(), cut = uniforms.cut.value.toArray(), cutAt = uniforms.cutAt.value;
    const moved = times ? points.slice() : points;
    if (times) for (let i = 0; i < moved.length; i++) moved[i] += times * move[i];
    let nearest = Infinity, found = null;
    for (let t = 0; t < elementOf.length; t++) {
      const i = 3 * corner[3 * t], j = 3 * corner[3 * t + 1], k = 3 * corner[3 * t + 2];
      const ax = moved[i], ay = moved[i + 1], az = moved[i + 2];
      const px = moved[j] - ax, py = moved[j + 1] - ay, pz = moved[j + 2] - az, qx = moved[k] - ax, qy = moved[k + 1] - ay, qz = moved[k + 2] - az;
      const hx = d[1] * qz - d[2] * qy, hy = d[2] * qx - d[0] * qz, hz = d[0] * qy - d[1] * qx, det = px * hx + py * hy + pz * hz;
      if (Math.abs(det) < 1e-14) continue;
      const sx = o[0] - ax, sy = o[1] - ay, sz = o[2] - az, u = (sx * hx + sy * hy + sz * hz) / det;
      if (u < 0 || u > 1) continue;
      const gx = sy * pz - sz * py, gy = sz * px - sx * pz, gz = sx * py - sy * px, v = (d[0] * gx + d[1] * gy + d[2] * gz) / det;
      if (v < 0 || u + v > 1) continue;
      const away = (qx * gx + qy * gy + qz * gz) / det;
      if (away <= 0 || away >= nearest) continue;
      if ((o[0] + away * d[0]) * cut[0] + (o[1] + away * d[1]) * cut[1] + (o[2] + away * d[2]) * cut[2] > cutAt) continue;
      nearest = away;
      const nodes = [...corner.subarray(3 * t, 3 * t + 3)], weights = [1 - u - v, u, v];
      found = { element: elementOf[t], nodes, place: [0, 1, 2].map((c) => weights.reduce((sum, w, n) => sum + w * points[3 * nodes[n] + c], 0)) };
    }
    return found;
  }

  function jointNear(place) {
    let best = null, least = 0.02 * size;
    for (const line of lines) for (let i = 0; i < line.at.length; i += 3) {
      const away = Math.hypot(line.at[i] - place[0], line.at[i + 1] - place[1], line.at[i + 2] - place[2]);
      if (away < least) { least = away; best = line; }
    }
    return best;
  }
  const lines = scene.lines.map((line) => ({ name: line.name, kind: line.kind, at: floats(line.ends) }));

  // A name that may be broken where its parts meet.
  function named(text, before = "") {
    const heading = make("h3", before);
    text.split(/(?<=[/._])/).forEach((piece, i) => heading.append(...(i ? [make("wbr")] : []), piece));
    return heading;
  }

  function show(heading, rows, more = []) {
    const list = make("dl");
    for (const [key, value] of rows) list.append(make("dt", key), make("dd", value));
    at("picked").classList.remove("empty");
    at("picked").replaceChildren(typeof heading === "string" ? named(heading) : heading, list, ...more);
  }

  let told = null; // what the box tells, to be told again in other units
  function tell(what) { told = what; what(); }

  function regionRows(index) {
    const name = scene.regions[index], summary = data.summary.regions[name], rows = [];
    if (summary) rows.push(["mass", PAGE.quantity(summary.mass, "mass")], ["area", PAGE.quantity(summary.area, "area")]);
    const own = data.summary.load_cases[current]?.[name];
    if (own) {
      rows.push(["strain energy", `${(100 * own.share).toFixed(1)} %`]);
      if (own.worst) rows.push(["lowest margin", `${PAGE.margin(own.worst.margin)} ${own.worst.mode}; ${own.worst.ply}`]);
    }
    return rows;
  }

  // The way from a region of the tub to its plies, where they can be tried.
  const tryHere = (index) => (scene.regions[index] in (data.what_if?.regions ?? {}) ? [make("a", "Try plies here", { href: "#try", class: "go" })] : []);

  function pickRegion(index) {
    mark(null);
    uniforms.picked.value = index;
    PAGE.picked(scene.regions[index]);
    tell(() => show(scene.regions[index], regionRows(index), tryHere(index)));
    draw();
  }

  function mark(line) {
    chosen.geometry.dispose();
    chosen.geometry = line ? flat([...line.at], Array(line.at.length / 3).fill(NONE)) : flat([], []);
  }

  function pickJoint(index) {
    const line = lines[index], name = line.name;
    uniforms.picked.value = -1;
    mark(line);
    tell(() => {
      show(named(name, "joint "), [["kind", line.kind], ...jointRows(name)]);
    });
    draw();
  }
  function jointRows(name) {
    const found = data.summary.joints[current]?.[name], rows = [];
    if (!found) return rows;
    rows.push(["length", PAGE.quantity(found.length, "run")]);
    const peaks = [["peak_shear_flow", "greatest shear flow", "line_force"], ["peak_normal", "across", "line_force"], ["peak_peel", "peel", "line_force"], ["peak_moment", "moment", "line_moment"]];
    for (const [key, text, kind] of peaks) if (found[key] !== null) rows.push([text, PAGE.quantity(found[key], kind)]);
    if (found.twist_share !== null) rows.push(["strain energy", `${(100 * found.twist_share).toFixed(1)} %`]);
    if (found.margin !== null) rows.push(["lowest margin", PAGE.margin(found.margin)]);
    return rows;
  }

  // Hard points and pickups: a dot each.
  function pickMark(index) {
    const one = scene.marks[index];
    uniforms.picked.value = -1;
    mark({ at: floatsOf(one.at) });
    tell(() => {
      const found = data.summary.hard_points[current]?.[one.name], rows = [[`at, ${PAGE.unit("length")}`, PAGE.place(one.at)]];
      if (found) {
        rows.push(["on", found.panel], ["shear", PAGE.quantity(found.shear, "force")], ["axial", PAGE.quantity(found.axial, "force")]);
        if (found.margin !== null) rows.push(["lowest margin", `${PAGE.margin(found.margin)} ${found.what}`]);
      }
      show(named(one.name, `${one.kind} `), rows);
    });
    draw();
  }
  const floatsOf = (place) => Float32Array.from(place);
  function markNear(place) {
    let best = -1, least = 0.012 * size;
    scene.marks.forEach((one, index) => {
      const away = Math.hypot(...one.at.map((c, k) => c - place[k]));
      if (away < least) { least = away; best = index; }
    });
    return best;
  }

  // What the page's answer names, shown on the tub: a region, a joint, a hard point.
  function pickName(name, loadCase) {
    if (loadCase in cases && loadCase !== current) { at("case").value = loadCase; setCase(loadCase); }
    const places = [[scene.regions.indexOf(name), pickRegion, "r"], [lines.findIndex((line) => line.name === name), pickJoint, "j"], [scene.marks.findIndex((one) => one.name === name), pickMark, "m"]];
    const found = places.find(([index]) => index >= 0);
    if (!found) return;
    found[1](found[0]);
    at("goto").value = `${found[2]}${found[0]}`;
  }
  for (const link of document.querySelectorAll("a[data-pick]")) link.addEventListener("click", () => pickName(link.dataset.pick, link.dataset.case));

  function pickElement(found) {
    const e = found.element, joint = jointNear(found.place);
    if (joint && FIELDS[shownField].joints) { pickJoint(lines.indexOf(joint)); return; }
    const near = markNear(found.place);
    mark(null);
    uniforms.picked.value = region[e];
    PAGE.picked(scene.regions[region[e]]);
    tell(() => {
      const rows = [["panel", scene.panels[panel[e]]], [`at, ${PAGE.unit("length")}`, PAGE.place(found.place)], ["thickness", PAGE.quantity(thickness[e], "length")]];
      const more = [];
      if (current !== undefined) {
        const own = cases[current];
        rows.push(["margin here", `${PAGE.margin(own.margin[e])} ${own.kinds[own.kind[e]]}`], ["strain here", PAGE.quantity(own.strain[e], "strain")]);
        more.push(plyTable(e));
      }
      if (joint) {
        const flow = cases[current]?.joints.find((one) => one.name === joint.name);
        rows.push(["joint", `${joint.name}, ${joint.kind}${flow ? `, up to ${PAGE.quantity(Math.max(...flow.flow.map(Math.abs)), "line_force")}` : ""}`]);
      }
      if (near >= 0) rows.push([scene.marks[near].kind, scene.marks[near].name]);
      const whole = regionRows(region[e]);
      if (whole.length) rows.push(["", "in the whole region:"], ...whole);
      show(scene.regions[region[e]], rows, [...more, ...tryHere(region[e])]);
    });
    draw();
  }

  function plyTable(e) {
    const box = make("details"), table = make("table"), head = make("tr"), body = make("tbody");
    box.append(make("summary", "Strains of the plies here, %"), table);
    for (const text of ["ply", "along", "across", "shear"]) head.append(make("th", text, { scope: "col", class: text === "ply" ? "" : "r" }));
    const [stack] = [...scene.mixtures[mixture[e]]].sort((a, b) => b[1] - a[1])[0];
    scene.stacks[stack].forEach(([text], ply) => {
      const line = make("tr"), faces = [0, 1].map((face) => plyStrain(current, e, stack, ply, face));
      line.append(make("th", text, { scope: "row" }));
      for (let k = 0; k < 3; k++) {
        const value = Math.abs(faces[0][k]) > Math.abs(faces[1][k]) ? faces[0][k] : faces[1][k];
        line.append(make("td", PAGE.three(100 * value), { class: "r" }));
      }
      body.append(line);
    });
    const top = make("thead");
    top.append(head);
    table.append(top, body);
    return box;
  }

  // Distance between two tapped points; a tap near a corner of the mesh takes the corner.
  let measuring = false, taken = [];
  function snapped(found) {
    let best = found.place, least = 0.006 * size;
    for (const n of found.nodes) {
      const own = [0, 1, 2].map((k) => points[3 * n + k]), away = Math.hypot(...own.map((c, k) => c - found.place[k]));
      if (away < least) { least = away; best = own; }
    }
    return best;
  }
  function measure(found) {
    if (taken.length === 2) taken = [];
    taken.push(snapped(found));
    const pair = [taken[0], taken[taken.length - 1]];
    for (const thing of [ruler, ends]) { thing.geometry.attributes.position.array.set(pair.flat()); thing.geometry.attributes.position.needsUpdate = true; }
    ends.visible = true;
    ruler.visible = taken.length === 2;
    tell(() => {
      const unit = PAGE.unit("length"), rows = pair.slice(0, taken.length).map((p, i) => [`point ${i + 1}, ${unit}`, PAGE.place(p)]);
      if (taken.length === 2) {
        const way = pair[1].map((c, k) => c - pair[0][k]);
        rows.push(["apart", PAGE.quantity(Math.hypot(...way), "length")], [`by x, y, z, ${unit}`, PAGE.place(way)]);
      }
      show("Distance on the meshed surface", rows, taken.length === 2 ? [] : [make("p", "Tap the second point.", { class: "soft" })]);
    });
    draw();
  }

  let pressed = null;
  canvas.addEventListener("pointerdown", (event) => { pressed = [event.clientX, event.clientY]; });
  canvas.addEventListener("click", (event) => {
    if (!pressed || Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) > 6) return;
    const found = hit(event.clientX, event.clientY);
    if (measuring) { if (found) measure(found); } else if (found) pickElement(found);
    else { uniforms.picked.value = -1; mark(null); draw(); }
  });
  canvas.addEventListener("keydown", (event) => {
    const away = camera.position.clone().sub(controls.target), flatLength = Math.hypot(away.x, away.y), length = away.length();
    let turn = Math.atan2(away.y, away.x), rise = Math.atan2(away.z, flatLength), zoom = 1;
    if (event.key === "ArrowLeft") turn -= 0.1;
    else if (event.key === "ArrowRight") turn += 0.1;
    else if (event.key === "ArrowUp") rise = Math.min(rise + 0.1, 1.56);
    else if (event.key === "ArrowDown") rise = Math.max(rise - 0.1, -1.56);
    else if (event.key === "+" || event.key === "=") zoom = 1 / 1.15;
    else if (event.key === "-") zoom = 1.15;
    else if (event.key === "Home") { event.preventDefault(); look("iso"); return; }
    else if (event.key === "Enter") { const r = canvas.getBoundingClientRect(), found = hit(r.left + r.width / 2, r.top + r.height / 2); if (found) measuring ? measure(found) : pickElement(found); return; }
    else return;
    event.preventDefault();
    const l = length * zoom;
    camera.position.set(controls.target.x + l * Math.cos(rise) * Math.cos(turn), controls.target.y + l * Math.cos(rise) * Math.sin(turn), controls.target.z + l * Math.sin(rise));
    controls.update();
  });

  const option = (value, text) => make("option", text, { value });
  for (const [key, field] of Object.entries(FIELDS)) at("field").append(option(key, field.title));
  WHERE.forEach((where, w) => COMPONENTS.forEach((component, c) => at("part").append(option(`${c},${w}`, `${component}, ${where}`))));
  at("part").value = "0,2";
  at("field").addEventListener("change", () => { shownField = at("field").value; uniforms.picked.value = -1; paint(); });
  at("part").addEventListener("change", paint);
  at("cut-axis").addEventListener("change", setCut);
  at("cut").addEventListener("input", setCut);
  for (const button of document.querySelectorAll("[data-look]")) button.addEventListener("click", () => look(button.dataset.look));
  at("measure").addEventListener("click", () => {
    measuring = !measuring;
    at("measure").setAttribute("aria-pressed", String(measuring));
    taken = [];
    ruler.visible = ends.visible = false;
    at("hint").textContent = measuring ? "Tap two points." : "Drag to turn, wheel or pinch to zoom. Tap the tub for its numbers.";
    draw();
  });
  const goto = at("goto");
  goto.append(option("", "a region, a joint, a hard point"));
  const groups = [["regions", scene.regions.map((name, i) => [`r${i}`, name])], ["joints", lines.map((line, i) => [`j${i}`, `${line.name}, ${line.kind}`])],
    ["hard points and pickups", scene.marks.map((one, i) => [`m${i}`, `${one.kind} ${one.name}`])]];
  for (const [label, rows] of groups) {
    const group = make("optgroup", undefined, { label });
    for (const [value, text] of rows) group.append(option(value, text));
    goto.append(group);
  }
  goto.addEventListener("change", () => {
    const index = Number(goto.value.slice(1));
    if (goto.value.startsWith("r")) pickRegion(index);
    else if (goto.value.startsWith("j")) pickJoint(index);
    else if (goto.value.startsWith("m")) pickMark(index);
  });

  fit();
  theme();
  if (current !== undefined) {
    for (const name of Object.keys(cases)) at("case").append(option(name, name));
    at("case").addEventListener("change", () => setCase(at("case").value));
    at("scale").addEventListener("input", setScale);
    shownField = "strain";
    at("field").value = "strain";
    setCase(current);
  } else paint();
  look("iso");
  PAGE.onUnits(() => { paint(); setCut(); if (told) told(); });

  return { plyStrain, plyField, hit, drawn: true, elements, coarse: () => Boolean(coarse?.mesh.visible), camera, frame: () => renderer.render(world, camera) };
})();
