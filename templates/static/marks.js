// What reels/ledger/marks does for the next mark of a reel, to the tick: on a phone without signal, over what it keeps.
// Ticks are BigInt: 1/10 000 of a mark's unit or of a millimetre. A fraction is [numerator, denominator].
"use strict";
const reelMarks = (() => {
  const SCALE = 10_000n, INCH = 254_000n, CM = 100_000n, MISTYPED = 20n; // one part in twenty
  const LENGTH_PER_MARK = { ft: [1524n, 5n], m: [1000n, 1n] };
  const FACTOR_FROM = { ft: 304_800_000n, m: 300_000_000n }, TOLD_STEP = { ft: 30_480n, m: 10_000n };
  const floor = (n, d) => (n - (((n % d) + d) % d)) / d;
  const ceil = (n, d) => -floor(-n, d);
  const abs = (n) => (n < 0n ? -n : n);
  const max = (...all) => all.reduce((a, b) => (a > b ? a : b));
  function round(n, d) { // halves to the even one
    const twice = floor(2n * n + d, 2n * d);
    return (2n * n + d) % (2n * d) === 0n && twice % 2n ? twice - 1n : twice;
  }
  const marked = (reel) => reel.outer !== null;
  const inward = (reel) => (reel.inner > reel.outer ? 1n : -1n);
  const depth = (reel, mark) => (mark - reel.outer) * inward(reel);
  const span = (reel) => depth(reel, reel.inner);
  const markAt = (reel, deep) => reel.outer + deep * inward(reel);

  // Taped length over length by marks, once taped cuts prove it; null until then.
  function factorOf(unit, placed, reading) {
    const [n, d] = LENGTH_PER_MARK[unit]; // both sides times d: lengths by marks are then whole
    const both = placed.filter((cut) => cut.taped).map((cut) => [(cut.end - cut.start) * n, cut.taped * d])
      .filter(([by, taped]) => MISTYPED * abs(taped - by) <= by);
    const by = both.reduce((sum, one) => sum + one[0], 0n), taped = both.reduce((sum, one) => sum + one[1], 0n);
    if (taped < FACTOR_FROM[unit] * d) return null;
    const agree = both.filter(([one, length]) => abs(one * taped - length * by) <= reading * d * by);
    return taped <= by || agree.length > 1 ? [taped, by] : null;
  }

  // cuts: {outer, inner, taped, at}; null what was not read.
  function books(reel, cuts, reading) {
    if (!marked(reel)) {
      const left = cuts.reduce((rest, cut) => rest - cut.taped, reel.length);
      return { outermost: 0n, factor: null, left: max(0n, left) };
    }
    const placed = cuts.filter((cut) => cut.outer !== null).map((cut) => {
      const [one, other] = [depth(reel, cut.outer), depth(reel, cut.inner)];
      return { ...cut, start: one < other ? one : other, end: max(one, other) };
    }).sort((a, b) => (a.start < b.start ? -1 : a.start > b.start ? 1 : 0));
    const factor = factorOf(reel.unit, placed, reading), [n, d] = LENGTH_PER_MARK[reel.unit], [up, down] = factor ?? [1n, 1n];
    const innermost = max(0n, ...placed.map((cut) => cut.end)), least = ceil(reading * d, n);
    const last = placed.filter((cut) => cut.end === innermost).map((cut) => cut.at).sort().at(-1);
    let gone = 0n, reached = 0n, before = 0n, after = 0n;
    for (const cut of placed) {
      if (cut.start - reached >= least && cut.start > reached) gone += cut.start - reached;
      reached = max(reached, cut.end);
    }
    for (const cut of cuts) {
      if (cut.outer !== null) continue;
      const size = ceil(cut.taped * d * down, n * up);
      if (last !== undefined && cut.at < last) before += size; else after += size;
    }
    const outermost = innermost + after + max(0n, before - gone), rest = max(0n, span(reel) - outermost);
    const left = floor(rest * n * up, d * down), step = TOLD_STEP[reel.unit];
    return { outermost: span(reel) - rest, factor, left: factor ? left - left % step : left };
  }

  // How a crew measures: `tape` its step of a tape [ticks], `as` inches, cm or tenths.
  const taped = (need, hands) => ceil(need, hands.tape) * hands.tape;
  function step(unit, as) {
    if (as === "tenths") return [unit === "ft" ? 1000n : 100n, 1n];
    const [n, d] = LENGTH_PER_MARK[unit];
    return [(as === "inches" ? INCH : CM) * d, n];
  }
  function nextMark(n, d, unit, as) {
    const whole = floor(n, d * SCALE), [sn, sd] = step(unit, as);
    let steps = floor((n - whole * d * SCALE) * sd, d * sn);
    for (;;) {
      const place = round(steps * sn, sd), mark = whole * SCALE + (place < SCALE ? place : SCALE);
      if (mark * d >= n) return mark;
      steps += 1n;
    }
  }
  // The mark to cut at for a need, as marks.reading tells it; null where the marks left do not hold it.
  function markToCutAt(reel, { outermost, factor }, need, allowance, hands) {
    if (!marked(reel)) return null;
    const [n, d] = LENGTH_PER_MARK[reel.unit], [up, down] = factor ?? [allowance[1] - allowance[0], allowance[1]];
    const sign = inward(reel), by = n * up;
    const target = sign * markAt(reel, outermost) * by + taped(need, hands) * d * down;
    const mark = sign * nextMark(target, by, reel.unit, hands.as), deep = depth(reel, mark);
    return deep < 0n || deep > (reel.deepest ?? span(reel)) ? null : mark;
  }
  // How to cut a need next: `mine` are the cuts of its set off this reel. The first of a set is by tape.
  function nextCut(reel, found, mine, need, allowance, hands) {
    const untaped = mine.length > 0 && mine.every((cut) => cut.taped === null);
    return {
      length: taped(need, hands),
      byTape: !marked(reel) || (!untaped && (!found.factor || !mine.length)),
      begins: marked(reel) ? markAt(reel, found.outermost) : null,
      at: markToCutAt(reel, untaped ? { ...found, factor: null } : found, need, allowance, hands),
      left: max(0n, found.left - taped(need, hands)),
    };
  }
  function decimals(ticks, places) {
    const unit = 10n ** BigInt(4 - places), whole = round(abs(ticks), unit), sign = ticks < 0n && whole ? "-" : "";
    const digits = String(whole).padStart(places + 1, "0");
    return sign + (places ? `${digits.slice(0, -places)}.${digits.slice(-places)}` : digits);
  }
  // Where a mark is to be found: on from a printed mark, toward the core.
  function told(mark, reel, as) {
    const { unit } = reel, sign = inward(reel), [n, d] = step(unit, as);
    if (as === "tenths") return `${decimals(mark, unit === "ft" ? 1 : 2)} ${unit}`;
    let whole = floor(sign * mark, SCALE), steps = round((sign * mark - whole * SCALE) * d, n);
    if (steps * n >= SCALE * d) [whole, steps] = [whole + 1n, 0n];
    return `${sign * whole} ${unit}${steps ? ` ${sign > 0n ? "+" : "−"} ${steps} ${as === "inches" ? "in" : "cm"}` : ""}`;
  }
  return { books, nextCut, markAt, told, decimals, inward, step, round, floor };
})();
