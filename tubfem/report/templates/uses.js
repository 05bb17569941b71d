"use strict";
// Uses of plies, skins and cores: findings.criteria, interlaminar and sandwich, under either hand of the load.
const USES = (() => {
  const L = LAMINATE, kept = new WeakMap();
  const dot = (a, b) => a.reduce((sum, value, i) => sum + value * b[i], 0);
  const at = (row, A) => A[0].map((_, j) => row.reduce((sum, value, i) => sum + value * A[i][j], 0)); // row times A
  const least = (a, b) => Math.min(a ?? Infinity, b ?? Infinity);

  // Everything of one stack that its uses need, made once.
  function rules(stack, rule) {
    if (kept.has(stack)) return kept.get(stack);
    const S = L.shearStiffness(stack), P = L.shearAtLevels(stack), [A, B] = L.abd(stack);
    const skins = [];
    for (let k = 0, first = 0; k <= stack.plies.length; k++) {
      if (k < stack.plies.length && !stack.plies[k].core) continue;
      if (first < k) {
        if (first > 0) skins.push(skin(stack, first, k, first - 1));
        if (k < stack.plies.length) skins.push(skin(stack, first, k, k));
      }
      first = k + 1;
    }
    const made = {
      stack, rule, S, A, B, skins: stack.plies.some((ply) => ply.core) ? skins : [],
      shear: P.map((levels, k) => levels.map((p) => { const own = L.times(p, S); return stack.plies[k].core ? L.times(L.vectorRotation(stack.angles[k]), own) : own; })),
      turns: stack.angles.map(L.rotation),
    };
    kept.set(stack, made);
    return made;
  }
  function skin(stack, first, last, core) {
    let mean = L.zeros(3, 3), bending = L.zeros(3, 3);
    const thickness = stack.z[last] - stack.z[first];
    for (let k = first; k < last; k++) {
      const a = stack.z[k], b = stack.z[k + 1];
      mean = L.plus(mean, stack.Q[k], (b - a) / thickness);
      bending = L.plus(bending, stack.Q[k], (b * b - a * a) / 2 / thickness);
    }
    return { mean, bending, compliance: L.inverse(mean), thickness, core: stack.plies[core], angle: stack.angles[core] };
  }

  const raise = (found, kind, value) => { if (value > (found[kind] ?? 0)) found[kind] = value; };

  // Transverse shear of plies and cores under (gxz, gyz).
  function sheared({ stack, rule, shear }, gamma, found) {
    stack.plies.forEach((ply, k) => {
      for (const map of shear[k]) {
        const [x, y] = [dot(map[0], gamma), dot(map[1], gamma)];
        if (ply.core) raise(found, "core shear", rule.required["core shear"] * Math.hypot(ply.shear[0] ? x / ply.shear[0] : 0, ply.shear[1] ? y / ply.shear[1] : 0));
        else if (ply.between) raise(found, "interlaminar shear", (rule.required["interlaminar shear"] * Math.hypot(x, y)) / ply.between);
      }
    });
  }

  function compression([x, y, xy]) { // greatest, and its angle
    return [0.5 * Math.atan2(-2 * xy, y - x), -(0.5 * (x + y) - Math.hypot(0.5 * (x - y), xy))];
  }

  // Plies by the case's criterion, and what makes a skin or the whole sandwich give way.
  function used(made, strain, found) {
    const { stack, rule, skins } = made, membrane = strain.slice(0, 3), curvature = strain.slice(3, 6);
    stack.plies.forEach((ply, k) => {
      if (ply.core) return;
      for (const z of [stack.z[k], stack.z[k + 1]]) {
        const own = made.turns[k].map((row) => dot(row, membrane.map((value, i) => value + z * curvature[i])));
        for (const kind of ["first damage", "fibre failure"]) raise(found, kind, rule.required[kind] * ofPly(ply, own, kind === "fibre failure", rule.criterion));
      }
    });
    for (const sign of [1, -1]) {
      for (const each of skins) {
        const stress = at(membrane, each.mean).map((value, j) => sign * (value + at(curvature, each.bending)[j]));
        const [angle, pressed] = compression(stress);
        if (pressed <= 0) continue;
        const c = Math.cos(angle), s = Math.sin(angle), along = [c * c, s * s, c * s], turn = angle - each.angle;
        const E = 1 / dot(at(along, each.compliance), along), G = 1 / (Math.cos(turn) ** 2 / each.core.G13 + Math.sin(turn) ** 2 / each.core.G23);
        const use = pressed / (0.5 * Math.cbrt(E * each.core.Ec * G));
        raise(found, "wrinkling", rule.required.wrinkling * use);
        raise(found, "wrinkling, class rule", (use * 0.5) / 0.3);
        if (each.core.cell) {
          const back = L.rotation(-angle), Q = L.times(L.transposed(back), L.times(each.mean, back));
          raise(found, "dimpling", (rule.required.dimpling * pressed) / (2 * Math.sqrt(Q[0][0] * Q[1][1]) * (each.thickness / each.core.cell) ** 2));
        }
      }
      if (!skins.length) continue;
      const load = at(membrane, made.A).map((value, j) => sign * (value + at(curvature, made.B)[j])), [angle, pressed] = compression(load);
      const normal = [Math.cos(angle), Math.sin(angle)];
      if (pressed > 0) raise(found, "crimping", (rule.required.crimping * pressed) / dot(at(normal, made.S), normal));
    }
  }

  // Use of one ply at one face, required factor left out.
  function ofPly(ply, strain, fibre, criterion) {
    const [t1, c1, t2, c2, s] = ply.limits.map((limit, m) => (fibre && !ply.fibre[m] ? null : limit));
    const one = Math.abs(strain[0]) / least(t1, c1), two = Math.abs(strain[1]) / least(t2, c2), three = Math.abs(strain[2]) / (s ?? Infinity);
    if (criterion === "maximum strain") return Math.max(one, two, three);
    const k = 1 - (ply.nu12 ** 2 * ply.E2) / ply.E1;
    const s1 = (ply.E1 * strain[0] + ply.nu12 * ply.E2 * strain[1]) / k, s2 = (ply.E2 * strain[1] + ply.nu12 * ply.E2 * strain[0]) / k, t = ply.G12 * strain[2];
    const strong = (limit, modulus) => (limit === null ? Infinity : limit * modulus);
    const alone = () => Math.max(Math.abs(s1) / Math.min(strong(t1, ply.E1), strong(c1, ply.E1)), Math.abs(s2) / Math.min(strong(t2, ply.E2), strong(c2, ply.E2)), Math.abs(t) / strong(s, ply.G12));
    if (criterion === "maximum stress" || (criterion === "Tsai-Wu" && fibre)) return alone();
    const [Xt, Xc, Yt, Yc, S] = ply.limits.map((limit, m) => Math.min(strong(limit, [ply.E1, ply.E1, ply.E2, ply.E2, ply.G12][m]), 1e30));
    const factor = (a, b) => 0.5 * (b + Math.sqrt(Math.max(b * b + 4 * a, 0))); // of the load: 1 / R with a R^2 + b R = 1
    if (criterion === "Tsai-Wu") {
      const F11 = 1 / (Xt * Xc), F22 = 1 / (Yt * Yc), a = F11 * s1 ** 2 + F22 * s2 ** 2 + (t / S) ** 2 - Math.sqrt(F11 * F22) * s1 * s2;
      const b = (1 / Xt - 1 / Xc) * s1 + (1 / Yt - 1 / Yc) * s2;
      return Math.max(factor(a, b), factor(a, -b));
    }
    if (!ply.unidirectional) return alone();
    const shear = (t / S) ** 2, counted = (m, value) => (fibre && !ply.fibre[m] ? 0 : value);
    const hand = (sign) => {
      const x = sign * s1, y = sign * s2;
      return Math.max(
        counted(x >= 0 ? 0 : 1, x >= 0 ? factor((x / Xt) ** 2 + shear, 0) : factor((x / Xc) ** 2, 0)),
        counted(y >= 0 ? 2 : 3, factor((y / (y >= 0 ? Yt : Yc)) ** 2 + shear, 0)),
      );
    };
    return Math.max(hand(1), hand(-1));
  }

  return { rules, sheared, used };
})();
