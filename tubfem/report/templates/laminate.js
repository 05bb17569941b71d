"use strict";
// Laminates as tubfem.laminate has them: stiffness, equilibrium shear, use of plies and cores. Matrices are arrays of rows.
const LAMINATE = (() => {
  const zeros = (n, m) => Array.from({ length: n }, () => new Array(m).fill(0));
  const transposed = (A) => A[0].map((_, j) => A.map((row) => row[j]));
  const times = (A, B) => A.map((row) => B[0].map((_, j) => row.reduce((sum, a, k) => sum + a * B[k][j], 0)));
  const plus = (A, B, factor = 1) => A.map((row, i) => row.map((a, j) => a + factor * B[i][j]));
  const over = (A, value) => A.map((row) => row.map((a) => a / value));

  // Solves A x = B for the columns of B, with pivots.
  function solved(A, B) {
    const n = A.length, rows = A.map((row, i) => [...row, ...B[i]]);
    for (let k = 0; k < n; k++) {
      let best = k;
      for (let i = k + 1; i < n; i++) if (Math.abs(rows[i][k]) > Math.abs(rows[best][k])) best = i;
      [rows[k], rows[best]] = [rows[best], rows[k]];
      for (let i = k + 1; i < n; i++) {
        const f = rows[i][k] / rows[k][k];
        if (f) for (let j = k; j < rows[i].length; j++) rows[i][j] -= f * rows[k][j];
      }
    }
    for (let k = n - 1; k >= 0; k--) {
      for (let j = n; j < rows[k].length; j++) {
        let value = rows[k][j];
        for (let i = k + 1; i < n; i++) value -= rows[k][i] * rows[i][j];
        rows[k][j] = value / rows[k][k];
      }
    }
    return rows.map((row) => row.slice(n));
  }
  const one = (n) => zeros(n, n).map((row, i) => row.map((_, j) => (i === j ? 1 : 0)));
  const inverse = (A) => solved(A, one(A.length));

  function rotation(angle) { // of strains
    const c = Math.cos(angle), s = Math.sin(angle);
    return [[c * c, s * s, c * s], [s * s, c * c, -c * s], [-2 * c * s, 2 * c * s, c * c - s * s]];
  }
  function vectorRotation(angle) {
    const c = Math.cos(angle), s = Math.sin(angle);
    return [[c, s], [-s, c]];
  }
  function plane(ply) {
    const k = 1 - (ply.nu12 ** 2 * ply.E2) / ply.E1, shared = (ply.nu12 * ply.E2) / k;
    return [[ply.E1 / k, shared, 0], [shared, ply.E2 / k, 0], [0, 0, ply.G12]];
  }
  function turned(Q, angle) {
    const T = rotation(angle);
    return times(transposed(T), times(Q, T));
  }

  // A stack: plies, angles from the tool outwards, z of all faces.
  function stack(plies, angles, start) {
    const z = [start];
    for (const ply of plies) z.push(z[z.length - 1] + ply.thickness);
    return { plies, angles, z, Q: plies.map((ply, k) => turned(plane(ply), angles[k])) };
  }

  function abd(laid) {
    const found = [zeros(3, 3), zeros(3, 3), zeros(3, 3)];
    laid.Q.forEach((Q, k) => {
      const a = laid.z[k], b = laid.z[k + 1], weights = [b - a, (b * b - a * a) / 2, (b ** 3 - a ** 3) / 3];
      weights.forEach((w, m) => { found[m] = plus(found[m], Q, w); });
    });
    return found;
  }

  // Distribution of transverse shear (ply, level, 2, 2) from equilibrium; see docs/theory.md.
  const TRACTION = [[0, 2], [2, 1]];
  function distributionIn(own, laid, frame, at) {
    const middle = 0.5 * (laid.z[0] + laid.z[laid.z.length - 1]), z = laid.z.map((value) => value - middle);
    const thick = z[z.length - 1] - z[0], count = laid.plies.length;
    const C = own.map((Q, k) => {
      const q = turned(Q, laid.angles[k] - frame);
      return TRACTION.map((pick) => pick.map((i) => pick.map((j) => q[i][j])));
    });
    const found = laid.plies.map(() => at.map(() => zeros(2, 2)));
    for (let axis = 0; axis < 2; axis++) {
      let a = zeros(2, 2), b = zeros(2, 2), d = zeros(2, 2);
      for (let k = 0; k < count; k++) {
        a = plus(a, C[k][axis], z[k + 1] - z[k]);
        b = plus(b, C[k][axis], (z[k + 1] ** 2 - z[k] ** 2) / 2);
        d = plus(d, C[k][axis], (z[k + 1] ** 3 - z[k] ** 3) / 3);
      }
      const K = [0, 1].map((i) => [...a[i], ...over(b, thick)[i]]).concat([0, 1].map((i) => [...over(b, thick)[i], ...over(d, thick ** 2)[i]]));
      const g = solved(K, [0, 1, 2, 3].map((i) => [i === 2 + axis ? 1 / thick : 0]));
      let start = [0, 0];
      for (let k = 0; k < count; k++) {
        const first = times(C[k][axis], [g[0], g[1]]), second = over(times(C[k][axis], [g[2], g[3]]), thick);
        at.forEach((level, m) => {
          const point = z[k] + level * (z[k + 1] - z[k]);
          for (let i = 0; i < 2; i++) found[k][m][i][axis] = -(start[i] + (point - z[k]) * first[i][0] + ((point ** 2 - z[k] ** 2) / 2) * second[i][0]);
        });
        start = start.map((value, i) => value + (z[k + 1] - z[k]) * first[i][0] + ((z[k + 1] ** 2 - z[k] ** 2) / 2) * second[i][0]);
      }
    }
    return found;
  }
  function distribution(laid, at) {
    const own = laid.plies.map(plane), quarter = Math.PI / 2;
    let weights = own.map((Q, k) => {
      const size = Math.hypot((Q[0][0] - Q[1][1]) / 2, (Q[0][0] + Q[1][1] - 2 * Q[0][1] - 4 * Q[2][2]) / 8);
      return (size > 1e-9 * Q[0][0] ? size : 0) * (laid.z[k + 1] - laid.z[k]);
    });
    let frames = laid.angles.map((angle) => Math.round((((angle % quarter) + quarter) % quarter) * 1e12) / 1e12);
    const total = weights.reduce((sum, w) => sum + w, 0);
    if (total <= 1e-9 * own.reduce((sum, Q, k) => sum + Q[0][0] * (laid.z[k + 1] - laid.z[k]), 0)) { frames = [0]; weights = [1]; }
    const share = new Map(), sum = weights.reduce((all, w) => all + w, 0);
    frames.forEach((frame, k) => share.set(frame, (share.get(frame) ?? 0) + weights[k] / sum));
    const found = laid.plies.map(() => at.map(() => zeros(2, 2)));
    for (const [frame, part] of share) {
      if (!part) continue;
      const R = vectorRotation(frame);
      distributionIn(own, laid, frame, at).forEach((levels, k) => levels.forEach((P, m) => {
        found[k][m] = plus(found[k][m], times(transposed(R), times(P, R)), part);
      }));
    }
    return found;
  }
  const GAUSS = [-Math.sqrt(0.6), 0, Math.sqrt(0.6)], WEIGHT = [5 / 9, 8 / 9, 5 / 9], LEVELS = [0, 0.5, 1];
  // Once a stack: at Gauss's points for its stiffness, at both faces and in the middle for the stress.
  const shared = (laid) => (laid.shear ??= distribution(laid, [...GAUSS.map((x) => 0.5 * (1 + x)), ...LEVELS]));
  const shearAtLevels = (laid) => shared(laid).map((levels) => levels.slice(3));
  function shearStiffness(laid) {
    let F = zeros(2, 2);
    shared(laid).forEach((levels, k) => {
      const R = vectorRotation(laid.angles[k]), S = times(transposed(R), times([[1 / laid.plies[k].G13, 0], [0, 1 / laid.plies[k].G23]], R));
      levels.slice(0, 3).forEach((P, m) => { F = plus(F, times(transposed(P), times(S, P)), (laid.z[k + 1] - laid.z[k]) * 0.5 * WEIGHT[m]); });
    });
    const found = inverse(F), across = 0.5 * (found[0][1] + found[1][0]);
    return [[found[0][0], across], [across, found[1][1]]];
  }

  // Stiffness (9, 9), the drilling strain last.
  function stiffness(laid, drilling) {
    const [A, B, D] = abd(laid), C = zeros(9, 9), S = shearStiffness(laid);
    for (let i = 0; i < 3; i++) for (let j = 0; j < 3; j++) {
      C[i][j] = A[i][j]; C[3 + i][3 + j] = D[i][j]; C[i][3 + j] = B[i][j]; C[3 + i][j] = B[i][j];
    }
    for (let i = 0; i < 2; i++) for (let j = 0; j < 2; j++) C[6 + i][6 + j] = S[i][j];
    C[8][8] = drilling * A[2][2];
    return C;
  }

  return { zeros, transposed, times, plus, over, solved, one, inverse, rotation, vectorRotation, stack, abd, shearAtLevels, shearStiffness, stiffness };
})();
