// The stand: where each reel is cut next, from what the phone keeps of the run and what waits in the queue.
// A cut that is not sent yet moves the next mark as one in the books does.
"use strict";
(() => {
  const stand = document.getElementById("stand"), { bundle: URL_, run: RUN } = stand.dataset, { decimal: DECIMAL, who: WHO } = document.body.dataset;
  const SCALE = 10_000n, INCH = 254_000n, FOOT = 3_048_000n, METRE = 10_000_000n;
  let kept, every = [];
  const big = (value) => (value === null ? null : BigInt(value));
  const asTicks = (cut) => ({ ...cut, outer: big(cut.outer), inner: big(cut.inner), taped: big(cut.taped) });
  const set = (name) => name.replace(/\d+$/, "");
  const part = (column, name) => column.querySelector(`[data-told="${name}"]`);
  const now = new WeakMap(); // what each column tells

  function length(ticks, unit, step) { // down to what a tape shows
    const whole = ticks - (ticks % step);
    if (unit === "ft") return `${whole / FOOT}' ${(whole % FOOT) / INCH}"`;
    return `${reelMarks.decimals(whole / 1000n, 2).replace(".", DECIMAL)} m`;
  }
  const ticksOf = (text, unit) => { // "187", "6.5": exactly
    const [whole, rest = ""] = (text.replace(",", ".") || "0").split(".");
    return (BigInt(whole) * 10_000n + BigInt(rest.padEnd(4, "0"))) * unit / SCALE;
  };
  function tapedOf(text) { // as this page sends it
    const found = /^(?:(\d+) ft)? ?(?:([\d.]+) in)?$|^([\d.]+) m$/.exec(text ?? "");
    if (!text || !found) return null;
    return found[3] ? ticksOf(found[3], METRE) : ticksOf(found[1] ?? "0", FOOT) + ticksOf(found[2] ?? "0", INCH);
  }

  // All cuts of a reel that stand: those in the books, and those of this phone that the books do not hold yet.
  function cutsOf(tag) {
    const gone = new Set(every.filter((one) => one.kind === "reversals" && one.state !== "refused").map((one) => one.row.reverses));
    every.forEach((one) => { if (one.undone || one.state === "refused") gone.add(one.id); });
    const known = new Set(kept.cuts.map((cut) => cut.id));
    const mine = every.filter((one) => one.kind === "cuts" && one.row.reel === tag && !known.has(one.id) && one.page.startsWith(URL_.split("pull/")[0]))
      .map(({ id, row, state }) => ({
        id, state, run: row.run, name: row.conductor ?? row.purpose, at: Date.parse(row.at), taped: tapedOf(row.length),
        outer: row.outer_mark ? ticksOf(row.outer_mark, SCALE) : null, inner: row.inner_mark ? ticksOf(row.inner_mark, SCALE) : null,
      }));
    return [...kept.cuts.filter((cut) => cut.reel === tag).map(asTicks), ...mine]
      .filter((cut) => !gone.has(cut.id));
  }

  // By the cuts of this phone too. Where the books know more of a reel than its cuts, what they say is moved on by these.
  function booksOf(reel, cuts, reading) {
    const known = kept.cuts.filter((cut) => cut.reel === reel.tag).map(asTicks), told = reel.books;
    const alone = reelMarks.books(reel, known, reading);
    if (alone.outermost === big(told.outermost) && alone.left === big(told.left)) return reelMarks.books(reel, cuts, reading);
    const here = new Set(known.map((cut) => cut.id)), fresh = cuts.filter((cut) => !here.has(cut.id));
    if (reel.outer === null) return { outermost: 0n, factor: null, left: fresh.reduce((rest, cut) => rest - cut.taped, big(told.left)) };
    const moved = reelMarks.books(reel, [...(told.outermost ? [{ outer: reel.outer, inner: reelMarks.markAt(reel, big(told.outermost)), taped: null, at: 0 }] : []), ...fresh], reading);
    const rest = (outermost) => (reel.inner - reel.outer) * reelMarks.inward(reel) - outermost, before = rest(big(told.outermost));
    const left = before > 0n ? big(told.left) * rest(moved.outermost) / before : 0n;
    return { outermost: moved.outermost, factor: told.factor?.map(big) ?? null, left };
  }

  function draw() {
    if (!kept) return;
    const { unit, allowance, reading, tape, as } = kept.settings, hands = { tape: big(tape), as };
    const reels = new Map(kept.reels.map((reel) => [reel.tag, { ...reel, outer: big(reel.outer), inner: big(reel.inner), length: big(reel.length), deepest: big(reel.deepest) }]));
    const all = new Map(kept.reels.map(({ tag }) => [tag, cutsOf(tag)]));
    const ours = [...all.values()].flat().filter((cut) => cut.run === RUN);
    const inBooks = new Set(kept.cuts.map((cut) => cut.id)), still = new Set(ours.map((cut) => cut.id));
    // Cut, says the server, unless this phone took that back since; or cut here.
    const cut = new Set(ours.filter((one) => !inBooks.has(one.id)).map((one) => one.name));
    kept.needs.filter((one) => one.cut && !kept.cuts.some((each) => each.run === RUN && each.name === one.name && !still.has(each.id)))
      .forEach((one) => cut.add(one.name));
    const open = kept.needs.filter((one) => !cut.has(one.name) && one.need);
    const planned = new Set(kept.reels.flatMap((reel) => reel.plan));
    document.getElementById("stand-head").textContent = open.length ? `${RUN}: ${open.length} to cut` : `${RUN}: every length is cut`;
    for (const column of stand.querySelectorAll("[data-reel]")) {
      const reel = reels.get(column.dataset.reel);
      if (!reel) continue;
      const cuts = all.get(reel.tag), books = booksOf(reel, cuts, big(reading));
      const wanted = reel.plan.map((name) => open.find((one) => one.name === name)).filter(Boolean);
      // What no reel is planned for may come off any reel of its cable.
      if (!reel.plan.length) wanted.push(...open.filter((one) => one.cable === reel.cable).sort((a, b) => planned.has(a.name) - planned.has(b.name)));
      const [first] = wanted, line = part(column, "line"), done = cuts.filter((one) => one.run === RUN);
      const told = first && reelMarks.nextCut(reel, books, done.filter((one) => set(one.name) === set(first.name)), big(first.need), allowance.map(big), hands);
      now.set(column, { reel, told, first, hands });
      part(column, "pair").hidden = !first;
      line.textContent = !first && wanted.length === 0 && open.length === 0 && !done.length ? "All lengths of this run are cut already." : reel.line;
      line.hidden = !line.textContent;
      part(column, "for").textContent = first ? `${wanted.length} × ${length(told.length, unit, hands.tape)}, next ${first.name}` : "Nothing more of this run comes off it";
      if (first) {
        const shown = (mark) => (mark === null ? "" : reelMarks.told(mark, reel, as));
        part(column, "begins").textContent = shown(told.begins) || "no marks";
        part(column, "act").textContent = told.byTape ? "tape, cut there" : "cut at";
        part(column, "at").textContent = told.byTape ? length(told.length, unit, hands.tape) : shown(told.at) || "not enough marks";
        part(column, "left").textContent = `${length(told.left, unit, hands.tape)} left after it`;
        part(column, "taping").textContent = told.byTape ? "By tape" : "Tape this one";
        const there = column.querySelector('form[data-way="there"]'), taping = column.querySelector('details[data-way="tape"]');
        there.hidden = told.at === null;
        there.querySelector("button").firstChild.textContent = told.byTape ? `No tape: cut at ${shown(told.at)}` : "Cut there";
        there.querySelector("button").classList.toggle("second", told.byTape);
        const [one, other] = told.byTape ? [taping, there] : [there, taping]; // what is to be done stands first
        if (one.nextElementSibling !== other) one.after(other);
        if (one.previousElementSibling) one.parentElement.prepend(one, other);
        if (told.byTape && taping.dataset.for !== first.name) taping.open = true;
        taping.dataset.for = first.name;
      }
      const last = done.sort((a, b) => a.at - b.at).at(-1);
      part(column, "done").replaceChildren(...done.map((one) => {
        const record = every.find((each) => each.id === one.id), row = document.createElement("li");
        const marks = one.outer === null ? "" : ` ${reelMarks.told(one.outer, reel, as)} → ${reelMarks.told(one.inner, reel, as)}`;
        const said = record ? { here: "on this phone", sent: "on this phone, being sent", kept: "in the books", look: "in the books, office to look", aside: "office to place" }[record.state] : "in the books";
        row.textContent = `✓ ${one.name}${marks}${one.taped === null ? "" : `, taped ${length(one.taped, unit, hands.tape)}`}: ${said}`;
        return row;
      }));
      const back = column.querySelector('form[data-way="back"]'), waiting = last && every.find((one) => one.id === last.id);
      back.hidden = !last;
      if (last) {
        back.elements.reverses.value = last.id;
        back.dataset.after = waiting ? last.id : "";
        back.querySelector("button").firstChild.textContent = `Take back ${last.name}`;
      }
    }
  }

  // What hands wrote into the fields of a form, as a record says it.
  function markOf(form, name, { reel, hands }) {
    const box = form.querySelector(`[data-mark="${name}"]`), text = (each) => box?.querySelector(`[data-part="${each}"]`)?.value.trim() ?? "";
    if (!text("printed")) return null;
    const [n, d] = reelMarks.step(reel.unit, hands.as), past = ticksOf(text("past") || "0", SCALE);
    return ticksOf(text("printed"), SCALE) + (hands.as === "tenths" ? 0n : reelMarks.inward(reel) * reelMarks.round(past * n, d * SCALE));
  }
  const asCell = (mark) => (mark === null ? "" : reelMarks.decimals(mark, 4).replace(".", DECIMAL));
  stand.addEventListener("submit", (event) => {
    const form = event.target, { way } = form.dataset, { reel, told, first, hands } = now.get(form.closest("[data-reel]")) ?? {};
    if (way === "back" || !first) return;
    const field = (name) => form.querySelector(`[name="${name}"]`), text = (name) => form.querySelector(`[data-part="${name}"]`)?.value.trim().replace(",", ".");
    const at = way === "there" ? told.at : markOf(form, "at", { reel, hands });
    field("conductor").value = first.name;
    field("outer_mark").value = at === null ? "" : asCell(markOf(form, "begins", { reel, hands }) ?? told.begins);
    field("inner_mark").value = asCell(at);
    field("by").value = document.getElementById("by").value.trim();
    if (way === "tape") field("length").value = text("metres") ? `${text("metres")} m` : `${text("feet")} ft${text("inches") ? ` ${text("inches")} in` : ""}`;
    const taped = tapedOf(field("length").value), wrong = (said) => {
      const typed = form.querySelector("[data-part]");
      typed.setCustomValidity(said);
      typed.reportValidity();
      form.addEventListener("input", () => typed.setCustomValidity(""), { once: true });
      event.preventDefault();
      event.stopPropagation();
    };
    const deep = (mark) => (mark - reel.outer) * reelMarks.inward(reel), off = (mark) => mark !== null && (deep(mark) < 0n || deep(mark) > reel.deepest);
    if (taped !== null && taped > reel.length) wrong("That is longer than all of the reel. Tape it again.");
    else if (off(at)) wrong(`That mark is not on ${reel.tag}. Read it again.`);
  });

  async function fetchKept() {
    const answer = await fetch(URL_, { credentials: "same-origin" });
    if (!answer.ok || !answer.headers.get("content-type").includes("json")) return;
    const at = answer.headers.get("date");
    if (WHO) await (await caches.open(`pages-${WHO}`)).put(URL_, answer.clone());
    kept = await answer.json();
    document.getElementById("stand-age").textContent = at ? `The books as of ${new Date(at).toLocaleString()}.` : "";
    draw();
  }
  let taken = 0;
  document.addEventListener("queue", ({ detail }) => {
    every = detail;
    draw();
    const inBooks = every.filter((one) => ["kept", "look"].includes(one.state)).length;
    if (inBooks !== taken && navigator.onLine) fetchKept().catch(() => {});
    taken = inBooks;
  });
  fetchKept().catch(() => { document.getElementById("stand-age").textContent = "The run is not on this phone yet: open it once where there is signal."; });
})();
