"use strict";
// Answers of the reduced model to plies laid more or left out: study.reduced, study.bracket and study.hot once more.
const WHAT_IF = (() => {
  const w = PAGE.data.what_if;
  if (!w) return null;
  const L = LAMINATE, { doubles, floats } = PAGE;
  const MIRRORED = [1, 1, -1, 1, 1, -1, 1, -1, -1];
  const LEAST = 0.05; // study.family.LEAST
  const load = doubles(w.reduced.load), loaded = doubles(w.reduced.loaded), n = load.length;
  const unchanged = doubles(w.reduced.unchanged), alpha = doubles(w.reduced.alpha);
  const PAIRS = [];
  for (let i = 0; i < 6; i++) for (let j = i; j < 6; j++) PAIRS.push([i, j]);
  PAIRS.push([6, 6], [6, 7], [7, 7], [8, 8]);

  function symmetric(values, size, first = 0) {
    const C = L.zeros(size, size);
    for (let i = 0, at = first; i < size; i++) for (let j = 0; j <= i; j++) C[i][j] = C[j][i] = values[at++];
    return C;
  }
  const groups = w.groups.map((g) => {
    const size = g.kind === "region" ? 9 : 1, half = (size * (size + 1)) / 2, D = doubles(g.D), corners = doubles(g.corners), sources = 1 + Math.max(-1, ...g.fields.map((field) => field[1]));
    return {
      ...g, size, P: floats(g.P), mixed: floats(g.mixed), own: doubles(g.own), C: symmetric(g.C, size),
      D: g.fields.map((_, l) => symmetric(D, size, l * half)), sources,
      corners: Array.from({ length: corners.length / half }, (_, d) => symmetric(corners, size, d * half)),
      alpha: g.fields.map(([row]) => alpha.subarray(row * n, (row + 1) * n)),
    };
  });

  // ---- laminates with their changes ----
  function placed(target) {
    const [kind, name] = target.includes(":") ? [target.slice(0, target.indexOf(":")), target.slice(target.indexOf(":") + 1)] : ["region", target];
    const joint = kind === "joint" && !(name in w.tabs);
    const means = joint ? Object.keys(w.tabs).find((tab) => name in w.tabs[tab].joints) : name;
    const table = kind === "region" ? w.regions[name] : kind === "patch" ? w.patches[name] : w.tabs[means];
    return { kind, name, table, means, joint };
  }

  // Own plies that a drop leaves out: entry by entry from that face, of an entry the last one first; null if too few.
  function dropped(own, gone, edit) {
    const entries = [...new Set(own.map((ply) => ply.entry))], out = new Set(gone);
    if (edit.face === "far") entries.reverse();
    let left = -edit.count;
    for (const entry of entries) for (let k = own.length - 1; k >= 0 && left; k--) {
      const ply = own[k];
      if (ply.entry !== entry || ply.core || ply.added || ply.name !== edit.ply || out.has(ply)) continue;
      if (edit.angle !== null && Math.abs(edit.angle - ply.angle) > 1e-6) continue;
      out.add(ply);
      left--;
    }
    return left || own.every((ply) => ply.core || out.has(ply)) ? null : out;
  }

  // What all edits do at each target: plies gone, plies more, layers (ply, angle) of those on the far face and at the
  // tool. A text says why they cannot be made.
  function planned(edits) {
    const plans = new Map();
    for (const edit of [...edits.filter((e) => e.count < 0), ...edits.filter((e) => e.count > 0)]) {
      const place = placed(edit.target), tried = place.table.tried[edit.ply];
      const plan = plans.get(edit.target) ?? { ...place, gone: new Set(), more: [], far: [], tool: [], laid: [] };
      plans.set(edit.target, plan);
      if (edit.count < 0) {
        plan.gone = dropped(place.table.own, plan.gone, edit);
        if (plan.gone === null) return "There are not so many of it, or no ply would be left.";
      } else {
        const layers = tried.layers.map(([turn, ply]) => [ply, (edit.angle ?? tried.usual) + turn]);
        const more = Array.from({ length: edit.count }, () => layers).flat();
        if (edit.face === "tool") plan.tool = [...more, ...plan.tool];
        else plan.far = [...plan.far, ...more];
        plan.laid.push(edit);
        for (let k = 0; k < edit.count; k++) plan.more.push({ name: edit.ply, layers: layers.map(([ply, angle]) => [ply, angle, `${place.table.label} +`]) });
        if (place.table.stepped && plan.more.length - plan.gone.size > place.table.most) return "The steps of this patch have no room for another ply, or the page does not know so many: run the command for that.";
      }
    }
    for (const plan of plans.values()) plan.texts = new Set([...plan.gone].flatMap((ply) => ply.layers.map((layer) => layer[2])));
    return plans;
  }

  const isGone = (text, plans) => [...plans.values()].some((plan) => plan.kind === "region" && plan.texts.has(text.startsWith("lap of ") ? text.slice(7) : text));

  // Where the plies of a patch lie in a stack: first layer, one behind the last, hand, numbers of its plies and steps.
  function runs(layers, { own, label }) {
    const found = [], isMark = (layer, further) => layer?.[0] < 0 && layer[2] === label && (layer[3] > 0) === further;
    for (let first = 0; first < layers.length; first++) {
      if (!isMark(layers[first], false)) continue;
      const on = new Set();
      let end = first + 1;
      own.forEach((ply, i) => {
        if (!ply.layers.every((layer, m) => layers[end + m]?.[2] === layer[2])) return;
        on.add(i);
        end += ply.layers.length;
      });
      for (; isMark(layers[end], true); end++) on.add(own.length + layers[end][3] - 1);
      found.push({ first, end, sign: layers[first][1], on });
    }
    return found;
  }
  // Plies of a patch that lie there with the changes. Steps stay where they are: each takes the next ply; on a mount the
  // last of them takes all that are left.
  function laidNow({ table, gone, more }, on) {
    const kept = table.own.filter((ply) => !gone.has(ply));
    return [...kept, ...more].filter((_, i) => on.has(table.stepped ? i : Math.min(i, kept.length - 1)));
  }
  function patched(layers, plan) {
    const turned = (sign) => ([ply, angle, text]) => [ply, sign * angle, text];
    return runs(layers, plan.table).reduceRight((all, { first, end, sign, on }) => [
      ...all.slice(0, first), ...laidNow(plan, on).flatMap((ply) => ply.layers).map(turned(sign)), ...all.slice(end),
    ], layers);
  }

  const real = (layers) => layers.filter(([ply]) => ply >= 0);
  const stackFrom = (layers, z) => L.stack(layers.map((layer) => w.plies[layer[0]]), layers.map((layer) => layer[1]), z);
  function relaid(s, side, plans) {
    const [z, all] = w.stacks[s], sign = side ? -1 : 1;
    let layers = all.filter((layer) => !isGone(layer[2], plans)), start = z;
    let same = layers.length === all.length;
    for (const plan of plans.values()) {
      if (plan.kind === "patch") {
        const now = patched(layers, plan);
        if (now !== layers) same = false;
        layers = now;
        continue;
      }
      if (plan.kind === "joint" || !(plan.far.length || plan.tool.length)) continue;
      const prefix = `${plan.name} `;
      let last = -1;
      layers.forEach((layer, k) => { if (layer[0] >= 0 && (layer[2].startsWith(prefix) || (last >= 0 && layer[2].startsWith("insert of ")))) last = k; });
      if (last < 0) continue;
      same = false;
      const more = (list) => list.map(([ply, angle]) => [ply, sign * angle, prefix + "+"]);
      layers = [...more(plan.tool), ...layers.slice(0, last + 1), ...more(plan.far), ...layers.slice(last + 1)];
      start -= plan.tool.reduce((sum, [ply]) => sum + w.plies[ply].thickness, 0);
    }
    if (same) return null;
    layers = real(layers);
    return { layers, stack: stackFrom(layers, start) };
  }
  const before = w.stacks.map(([z, all]) => { const layers = real(all); return { layers, stack: stackFrom(layers, z) }; });
  const stiffnessBefore = [];
  const stiffnessOf = (s) => (stiffnessBefore[s] ??= L.stiffness(before[s].stack, w.drilling));
  const arealMass = (laid) => laid.stack.plies.reduce((sum, ply) => sum + ply.rho * ply.thickness, 0);
  const firstMoment = ({ stack }) => stack.plies.reduce((sum, ply, k) => sum + (ply.rho * (stack.z[k + 1] ** 2 - stack.z[k] ** 2)) / 2, 0);

  // ---- joints on springs: docs/theory.md, "Joints" ----
  const RESIN_SHEAR = 1.1e9, GLUE = 0.2e-3, TENSION = 2.8, STEEL = 210e9, HELD = 1e12;
  const centred = (layers) => {
    const plies = layers.map((layer) => w.plies[layer[0]]);
    return L.abd(L.stack(plies, layers.map((layer) => layer[1]), -0.5 * plies.reduce((sum, ply) => sum + ply.thickness, 0)));
  };
  function sideOf(region, plans) {
    const plan = plans.get(region), own = w.regions[region].own.filter((ply) => !plan?.gone.has(ply)).flatMap((ply) => ply.layers);
    const layers = [...(plan?.tool ?? []), ...own, ...(plan?.far ?? [])], compliance = L.inverse(centred(layers)[0]);
    const sum = (list) => list.reduce((all, [ply]) => all + w.plies[ply].thickness, 0);
    const thickness = sum(layers), solid = sum(layers.filter(([ply]) => !w.plies[ply].core)) || thickness;
    return { thickness, solid, modulus: (0.5 * (1 / compliance[0][0] + 1 / compliance[1][1])) / solid };
  }
  function bridge(a, length, width, legs) {
    const k = RESIN_SHEAR / GLUE;
    return length / a + legs / (Math.sqrt(k * a) * Math.tanh(width * Math.sqrt(k / a)));
  }
  function lineSprings(tie, plans) {
    let springs = [HELD, HELD, HELD, 0];
    const arc = tie.fillet * (Math.PI - tie.angle), [a, b] = tie.kind === "tabbed" || tie.kind === "fastened" ? tie.regions.map((region) => sideOf(region, plans)) : [];
    if (tie.kind === "tabbed") {
      const plan = plans.get(`joint:${tie.name}`) ?? plans.get(`joint:${tie.means}`);
      const layers = [...w.tabs[tie.means].own.filter((ply) => !plan?.gone.has(ply)).flatMap((ply) => ply.layers), ...(plan?.far ?? [])];
      const [A, , D] = centred(layers), [along, across] = [A[2][2], A[1][1]].map((k) => tie.sides / bridge(k, arc, tie.width, 2));
      const turn = (tie.sides * D[1][1]) / (arc + 2 * Math.sqrt((A[1][1] * GLUE) / RESIN_SHEAR));
      springs = [along + tie.wedge, across, across, turn + (tie.sides === 2 ? (across * a.thickness ** 2) / 4 : 0)];
    } else if (tie.kind === "fastened") {
      const [diameter, pitch] = tie.bolt, own = 1 / (a.solid * a.modulus) + 1 / (b.solid * b.modulus);
      const bolt = 1 / (2 * a.solid * STEEL) + 1 / (2 * b.solid * STEEL);
      const shear = 1 / (((a.solid + b.solid) / (2 * diameter)) ** (2 / 3) * 4.2 * (own + bolt)) / pitch;
      springs = [shear, shear, shear, (shear * diameter ** 2) / 2];
    } else if (tie.kind === "bonded") {
      const shear = (tie.bond[1] * tie.width) / tie.bond[0], peel = TENSION * shear;
      springs = [shear, shear, peel, (peel * tie.width ** 2) / 12];
    }
    for (const [all, width] of tie.bridges) {
      const layers = all.filter((layer) => !isGone(layer[2], plans));
      if (!layers.length) continue;
      const [A, , D] = centred(layers), [along, across] = [A[2][2], A[1][1]].map((k) => 1 / bridge(k, arc, width, 1));
      springs = springs.map((k, i) => k + [along, across, across, D[1][1] / (arc + Math.sqrt((A[1][1] * GLUE) / RESIN_SHEAR))][i]);
    }
    return springs;
  }
  const NONE = new Map(), springsBefore = w.ties.map((tie) => lineSprings(tie, NONE));

  // Change of every group: (size, size) matrices.
  function changes(plans, stackOf) {
    const found = new Map();
    groups.forEach((group, k) => {
      let total = null;
      for (const [s, side, share] of group.shares) {
        const now = stackOf(s, side);
        if (!now) continue;
        now.stiffness ??= L.stiffness(now.stack, w.drilling);
        const sign = side ? MIRRORED : MIRRORED.map(() => 1), difference = L.plus(now.stiffness, stiffnessOf(s), -1);
        total = L.plus(total ?? L.zeros(9, 9), difference.map((row, i) => row.map((value, j) => value * sign[i] * sign[j])), share);
      }
      if (total) found.set(k, stiffEverywhere(groups[k], total));
    });
    w.ties.forEach((tie, t) => {
      const now = lineSprings(tie, plans);
      tie.groups.forEach((own, i) => {
        const share = own && !tie.given[i] && springsBefore[t][i] ? now[i] / springsBefore[t][i] - 1 : 0;
        if (Math.abs(share) > 1e-12) found.set(own[0], [[(found.get(own[0])?.[0][0] ?? 0) + own[1] * share]]);
      });
    });
    return found;
  }

  // ---- the reduced model ----
  function contracted(group, C, total, factor = 1) {
    const entries = group.size === 1 ? [C[0][0]] : PAIRS.map(([i, j]) => C[i][j]), half = (n * (n + 1)) / 2;
    entries.forEach((c, row) => {
      if (!c) return;
      let at = row * half;
      for (let i = 0; i < n; i++) for (let j = 0; j <= i; j++) { const value = factor * c * group.P[at++]; total[i * n + j] += value; if (i !== j) total[j * n + i] += value; }
    });
  }
  function cholesky(A, size) {
    const R = A.slice();
    for (let i = 0; i < size; i++) for (let j = 0; j <= i; j++) {
      let value = R[i * size + j];
      for (let k = 0; k < j; k++) value -= R[i * size + k] * R[j * size + k];
      if (i === j) { if (value <= 0) return null; R[i * size + i] = Math.sqrt(value); } else R[i * size + j] = value / R[j * size + j];
    }
    return R;
  }
  function choleskySolved(R, b) {
    const x = Float64Array.from(b);
    for (let i = 0; i < n; i++) { for (let k = 0; k < i; k++) x[i] -= R[i * n + k] * x[k]; x[i] /= R[i * n + i]; }
    for (let i = n - 1; i >= 0; i--) { for (let k = i + 1; k < n; k++) x[i] -= R[k * n + i] * x[k]; x[i] /= R[i * n + i]; }
    return x;
  }
  const dot = (a, b) => a.reduce((sum, value, i) => sum + value * b[i], 0);

  // Eigenvalues of a small symmetric matrix, and its vectors as columns, by Jacobi's rotations.
  function eigen(A) {
    const size = A.length, vectors = A.map((_, i) => A.map((_, j) => (i === j ? 1 : 0)));
    for (let sweep = 0; sweep < 30; sweep++) {
      let off = 0;
      for (let p = 0; p < size; p++) for (let q = 0; q < p; q++) {
        off = Math.max(off, Math.abs(A[p][q]));
        if (Math.abs(A[p][q]) < 1e-18) continue;
        const half = (A[q][q] - A[p][p]) / (2 * A[p][q]), t = (half >= 0 ? 1 : -1) / (Math.abs(half) + Math.hypot(half, 1)), c = 1 / Math.hypot(t, 1), s = t * c;
        for (let k = 0; k < size; k++) { const x = A[k][p], y = A[k][q]; A[k][p] = c * x - s * y; A[k][q] = s * x + c * y; }
        for (let k = 0; k < size; k++) { const x = A[p][k], y = A[q][k]; A[p][k] = c * x - s * y; A[q][k] = s * x + c * y; }
        for (const row of vectors) { const x = row[p], y = row[q]; row[p] = c * x - s * y; row[q] = s * x + c * y; }
      }
      if (off < 1e-15) break;
    }
    return { values: A.map((row, i) => row[i]), vectors };
  }
  const rooted = (C, R) => C.map((row, i) => row.map((_, j) => (j <= i ? R[i * C.length + j] : 0)));
  // The change, with as much more as leaves every element of the group a share LEAST of its new mean in any direction.
  function stiffEverywhere(group, dC) {
    const C = L.plus(group.C, dC), R = cholesky(C.flat(), group.size);
    if (!R) return dC;
    const root = rooted(C, R), half = L.inverse(root);
    for (const corner of group.corners) {
      const { values, vectors } = eigen(L.times(half, L.times(L.plus(corner, dC), L.transposed(half))));
      if (Math.min(...values) >= LEAST) continue;
      const turned = L.times(root, vectors);
      dC = L.plus(dC, L.times(turned.map((row) => row.map((value, j) => value * Math.max(LEAST - values[j], 0))), L.transposed(turned)));
    }
    return dC;
  }
  // A matrix above the inverse stiffness of every element of a group; null where one is not stiff any more.
  function compliance(group, dC) {
    const C = dC ? L.plus(group.C, dC) : group.C, R = cholesky(C.flat(), group.size);
    if (!R) return null;
    const found = L.inverse(C);
    if (group.corners.length === 1) return found;
    const half = L.inverse(rooted(C, R));
    const ratio = Math.min(...group.corners.flatMap((one) => eigen(L.times(half, L.times(dC ? L.plus(one, dC) : one, L.transposed(half)))).values));
    return ratio > 0 ? L.over(found, ratio) : null;
  }
  function fieldsEnergy(group, W, total, factor) {
    group.D.forEach((D, l) => {
      const left = L.times(D, W);
      group.D.forEach((other, m) => {
        const both = L.times(left, other);
        let core = 0;
        for (let i = 0; i < group.size; i++) for (let j = 0; j < group.size; j++) core += both[i][j] * group.own[((group.fields[l][1] * group.sources + group.fields[m][1]) * group.size + i) * group.size + j];
        for (let a = 0; a < n; a++) for (let b = 0; b < n; b++) total[a * n + b] += factor * core * group.alpha[l][a] * group.alpha[m][b];
      });
    });
  }
  function residualEnergy(change) {
    const total = unchanged.slice();
    for (const [k, dC] of change) {
      const group = groups[k], W = compliance(group, dC);
      if (!W) return null;
      if (group.D.length) fieldsEnergy(group, (group.before ??= compliance(group, null)), total, -1);
      const dCW = L.times(dC, W);
      contracted(group, L.times(dCW, dC), total);
      if (!group.D.length) continue;
      fieldsEnergy(group, W, total, 1);
      group.D.forEach((D, l) => {
        const X = L.times(dCW, D), field = new Float64Array(n);
        for (let i = 0; i < group.size; i++) for (let j = 0; j < group.size; j++) for (let a = 0; a < n; a++) field[a] += X[i][j] * group.mixed[((group.fields[l][1] * group.size + i) * group.size + j) * n + a];
        for (let a = 0; a < n; a++) for (let b = 0; b < n; b++) { const value = field[a] * group.alpha[l][b]; total[a * n + b] += value; total[b * n + a] += value; }
      });
    }
    return total;
  }

  // Amounts of the basis, and the stiffness that is never less and never more.
  function bracket(change) {
    const K = new Float64Array(n * n);
    for (const [k, dC] of change) contracted(groups[k], dC, K);
    const dK = K.slice();
    for (let i = 0; i < n; i++) K[i * n + i] += 1;
    const R = cholesky(K, n);
    if (!R) return null;
    const b = choleskySolved(R, load), high = w.reduced.scale / dot(load, b), Y = residualEnergy(change);
    if (!Y) return { b, low: 0, high };
    const H = L.zeros(n, n);
    let trace = 0;
    for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) {
      const both = (i, j) => (i === j ? 1 : 0) - load[i] * loaded[j];
      H[i][j] = (i === j ? 1 : 0) - dK[i * n + j] - both(i, j) - both(j, i) + 0.5 * (Y[i * n + j] + Y[j * n + i]);
    }
    for (let i = 0; i < n; i++) trace += H[i][i];
    for (let i = 0; i < n; i++) H[i][i] += (1e-13 * trace) / n;
    const x = L.solved(H, [...loaded].map((value) => [value])).map((row) => row[0]), size = dot(loaded, x), a = x.map((value) => value / size);
    let energy = 2 * dot(load, a);
    for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) energy += a[i] * a[j] * (0.5 * (Y[i * n + j] + Y[j * n + i]) - dK[i * n + j] - (i === j ? 1 : 0));
    return { b, low: Math.min(w.reduced.scale / energy, high), high };
  }

  // ---- margins of the elements that are followed ----
  const hot = { ...w.hot, averaged: floats(w.hot.averaged), shear: floats(w.hot.shear), twist: floats(w.hot.twist) };
  function strainAt(map, row, count, b) {
    const out = [];
    for (let i = 0; i < count; i++) { let sum = 0, at = (row * count + i) * n; for (let a = 0; a < n; a++) sum += map[at++] * b[a]; out.push(sum); }
    return out;
  }
  // How much shear strain a change of curvature drives: the shear of a twist grows by it with its stack.
  const twistOver = (stacks) => stacks.reduce((sum, stack) => sum + (stack.twistOver ??= twistOverOf(stack)), 0) / stacks.length;
  function twistOverOf(stack) {
    const [A, B, D] = L.abd(stack), S = L.shearStiffness(stack);
    return L.plus(D, L.times(L.transposed(B), L.solved(A, B)), -1)[2][2] / Math.sqrt(S[0][0] * S[1][1] - S[0][1] * S[1][0]);
  }
  function margins(b, stackOf) {
    const use = new Map(); // region -> [greatest use, kind]
    const rulesOf = (s, side) => USES.rules(stackOf(s, side)?.stack ?? before[s].stack, w.rules);
    const cored = hot.near.map(([stacks, side]) => (stacks.some((s) => rulesOf(s, side).stack.plies.some((ply) => ply.core)) ? 1 : 0));
    const between = hot.near.map(([stacks, side], e) => {
      const found = { "interlaminar shear": 0, "core shear": 0 };
      const more = twistOver(stacks.map((s) => stackOf(s, side)?.stack ?? before[s].stack)) / twistOver(stacks.map((s) => before[s].stack)) - 1;
      const gamma = L.plus([strainAt(hot.shear, e, 2, b)], [strainAt(hot.twist, e, 2, b)], more)[0];
      for (const s of stacks) USES.sheared(rulesOf(s, side), gamma, found);
      return found;
    });
    hot.followed.forEach((e, row) => {
      const [stacks, side, region] = hot.near[e], strain = strainAt(hot.averaged, row, 8, b), found = {};
      for (const s of stacks) USES.used(rulesOf(s, side), strain, found);
      const mean = (value) => hot.mean[row][0].reduce((sum, near, k) => sum + hot.mean[row][1][k] * value(near), 0);
      found["interlaminar shear"] = mean((near) => between[near]["interlaminar shear"]);
      if (cored[e]) found["core shear"] = mean((near) => between[near]["core shear"]) / mean((near) => cored[near]);
      for (const [kind, value] of Object.entries(found)) if (value > (use.get(region)?.[0] ?? 0)) use.set(region, [value, kind]);
    });
    return new Map([...use].map(([region, [value, kind]]) => [hot.regions[region], { margin: 1 / value - 1, kind }]));
  }

  // ---- the answer ----
  function areaUnder(prefix) {
    return before.reduce((sum, laid, s) => sum + (laid.layers.some((layer) => layer[2].startsWith(prefix)) ? w.areas[s] : 0), 0);
  }
  function laidMore(plans, stackOf) {
    let mass = 0;
    const cost = { ...w.base.cost }, unpriced = new Set();
    const pay = (ply, area) => {
      const price = w.prices[ply];
      if (price) cost[price[1]] = (cost[price[1]] ?? 0) + area * price[0]; else unpriced.add(ply);
    };
    before.forEach((laid, s) => {
      const now = stackOf(s, 0);
      if (!now) return;
      mass += w.areas[s] * (arealMass(now) - arealMass(laid)) + w.folds[s] * (firstMoment(now) - firstMoment(laid));
    });
    for (const plan of plans.values()) {
      const { table } = plan;
      if (plan.kind === "patch") {
        const area = {}, add = (ply, sign, s) => { area[ply.name] = (area[ply.name] ?? 0) + sign * w.areas[s]; };
        w.stacks.forEach(([, all], s) => runs(all, table).forEach(({ on }) => {
          for (const ply of laidNow(plan, on)) add(ply, 1, s);
          for (const i of on) if (i < table.own.length) add(table.own[i], -1, s);
        }));
        for (const [ply, more] of Object.entries(area)) if (Math.abs(more) > 1e-12) pay(ply, more);
        continue;
      }
      const tabs = plan.kind === "joint" ? Object.entries(table.joints).reduce((sum, [joint, area]) => sum + (plan.joint ? joint === plan.name : !plans.has(`joint:${joint}`)) * area, 0) : 0;
      const areal = (layers) => layers.reduce((sum, [ply]) => sum + w.plies[ply].rho * w.plies[ply].thickness, 0);
      if (plan.kind === "joint") mass += tabs * (areal(plan.far) - areal([...plan.gone].flatMap((ply) => ply.layers)));
      for (const edit of plan.laid) pay(edit.ply, edit.count * (plan.kind === "joint" ? tabs : areaUnder(`${plan.name} `)));
      for (const ply of plan.gone) {
        const text = ply.layers[0][2], area = plan.kind === "joint" ? tabs : before.reduce((sum, laid, s) => sum + w.areas[s] * laid.layers.filter((layer) => layer[2] === text || layer[2] === `lap of ${text}`).length, 0);
        pay(ply.name, -area);
      }
    }
    return { mass, cost, unpriced: [...unpriced] };
  }

  // Stiffness between `low` and `high` [N·m/deg], mass [kg], cost by currency, margins by region; or why not, `refused`.
  function answer(edits) {
    const plans = planned(edits);
    if (typeof plans === "string") return { refused: plans };
    const kept = new Map(), stackOf = (s, side) => {
      const key = 2 * s + side;
      if (!kept.has(key)) kept.set(key, relaid(s, side, plans));
      return kept.get(key);
    };
    const found = bracket(changes(plans, stackOf));
    if (!found) return { refused: "With so little left the reduced model has no answer." };
    const { b, low, high } = found;
    return { low, high, stiffness: 0.5 * (low + high), margins: margins(b, stackOf), ...laidMore(plans, stackOf) };
  }

  return { answer, placed };
})();
