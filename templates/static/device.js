// The phone's queue. What is done on a page is written here first, then sent to the door (docs/records.md); what the
// phone keeps, and what it says of it, stands in docs/device.md. Pages work without this script, too.
"use strict";
(() => {
  const { site: SITE = "", who: WHO = "", decimal: DECIMAL = ".", group: GROUP = "" } = document.body.dataset;
  const QUEUE = "/~/waiting/", BATCH = 50, EVERY = 30_000, LONGEST_PAUSE = 600_000, HOUR = 3_600_000, LARGEST = 1600;
  const NUMBERS = new Set(["counted", "quantity", "boxes", "per_box", "loose", "count", "outer_mark", "inner_mark"]);
  const FIGURES = ["counted", "quantity", "boxes", "about"]; // a line of several that leaves all of them blank is no record
  const NOT_CELLS = new Set(["csrfmiddlewaretoken", "next", "confirmed"]);
  const WORDS = {
    here: "on this phone", sent: "on this phone, being sent", kept: "sent, in the books", look: "sent, office to look",
    aside: "sent, office to place", refused: "not taken",
  };
  const waits = (record) => record.state === "here" || record.state === "sent";
  const $ = (id) => document.getElementById(id);

  // ---- what is written on the device
  let opened;
  function database() {
    opened ??= new Promise((resolve, reject) => {
      const asked = indexedDB.open("reelkeep", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("records", { keyPath: "id" });
        asked.result.createObjectStore("photos", { keyPath: "id" });
        asked.result.createObjectStore("facts");
      };
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
    return opened;
  }
  // Resolves once the device says that it is written, not before.
  async function change(work) {
    const held = (await database()).transaction(["records", "photos", "facts"], "readwrite", { durability: "strict" });
    const done = new Promise((resolve, reject) => {
      held.oncomplete = resolve;
      held.onabort = held.onerror = () => reject(held.error);
    });
    work(Object.fromEntries(["records", "photos", "facts"].map((name) => [name, held.objectStore(name)])));
    await done;
  }
  async function read(store, key) {
    const held = (await database()).transaction(store);
    const asked = key === undefined ? held.objectStore(store).getAll() : held.objectStore(store).get(key);
    return new Promise((resolve, reject) => {
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }
  const records = async () => (await read("records")).sort((a, b) => a.number - b.number);
  const fact = (name, value) => (value === undefined ? read("facts", name) : change(({ facts }) => facts.put(value, name)));

  // ---- from a form to records: numbers as the site's country writes them go on plainly
  function plainly(text) {
    const sign = GROUP.trim() ? `[${GROUP}]` : "[ \u00a0\u202f\u2009]"; // groups stand before three digits
    return text.replace(new RegExp(`${sign}(?=\\d{3}(\\D|$))`, "g"), "").replace(DECIMAL, ".");
  }
  function rowsOf(form, pressed) {
    const shared = {}, numbered = new Map(), files = [];
    for (const [name, value] of new FormData(form, pressed)) {
      if (NOT_CELLS.has(name)) continue;
      if (value instanceof File) { if (value.size) files.push(value); continue; }
      const cell = value.trim();
      const [, number, column] = /^(?:(\d+)-)?(.+)$/.exec(name);
      if (number && !numbered.has(number)) numbered.set(number, {});
      const row = number ? numbered.get(number) : shared;
      const plain = NUMBERS.has(column) ? plainly(cell) : cell;
      row[column] = row[column] ? [row[column], plain].filter(Boolean).join(", ") : plain;
    }
    const asked = (row) => FIGURES.some((name) => name in row), filled = (row) => FIGURES.some((name) => row[name]);
    const lines = [...numbered.values()].filter((row) => row.id && (!asked(row) || filled(row)));
    const rows = (numbered.size ? lines.map((row) => ({ ...shared, ...row })) : [shared])
      .map((row) => Object.fromEntries(Object.entries(row).filter(([, cell]) => cell)));
    return { rows, files };
  }
  const figure = (row) => row.counted ?? row.quantity ?? row.boxes ?? (row.about ? `about ${row.about}` : "");
  const inWords = (rows) => (new Set(rows.map((row) => row.item)).size > 1 ? `${rows.length} lines`
    : [rows.map(figure).filter(Boolean).join(" + "), rows[0].item ?? rows[0].reel ?? rows[0].shipment ?? rows[0].reason ?? ""].filter(Boolean).join(" "));

  async function keep(form, pressed) {
    const { rows, files } = rowsOf(form, pressed);
    if (!rows.length) return say("Nothing was written: no figure stands in the form.", "warning");
    const act = crypto.randomUUID(), now = new Date().toISOString(), from = (await fact("number")) ?? 0;
    const after = (form.dataset.after ?? "").split(" ").filter(Boolean);
    const made = rows.map((row, at) => ({
      id: crypto.randomUUID(), act, site: SITE, kind: form.dataset.record, number: from + at + 1, after, who: WHO,
      page: location.pathname, told: inWords(rows), made: now, state: "here", said: [],
      row: { at: now, ...row },
    }));
    made.forEach((record) => { record.row.id = record.id; });
    const photos = await Promise.all(files.map(async (file) => ({
      id: crypto.randomUUID(), site: SITE, kind: made[0].kind, record: made[0].id, taken: taken(file), blob: await smaller(file),
    })));
    try {
      await change((stores) => {
        made.forEach((record) => stores.records.add(record));
        photos.forEach((photo) => stores.photos.add(photo));
        stores.facts.put(from + made.length, "number");
      });
    } catch (error) {
      return say(`Not kept on this phone, write it on paper (${error?.message ?? "storage is full"}).`, "error");
    }
    navigator.storage?.persist?.();
    const next = new FormData(form).get("next");
    if (!beside(document.activeElement, 1)) document.activeElement.blur();
    form.closest("details")?.removeAttribute("open");
    form.reset();
    await show();
    send();
    if (next && new URL(next, location).pathname !== location.pathname) location.assign(next);
  }

  async function undo(act) {
    const mine = (await records()).filter((record) => record.act === act);
    const number = (await fact("number")) ?? 0, now = new Date().toISOString();
    await change((stores) => {
      mine.forEach((record, at) => {
        if (record.state === "here") { stores.records.delete(record.id); return; }
        const id = crypto.randomUUID(), row = { id, reverses: record.id, at: now, reason: "wrong tap" };
        stores.records.put({ ...record, undone: true });
        stores.records.add({ ...record, id, row, act: id, kind: "reversals", number: number + at + 1, after: [record.id], made: now, state: "here", said: [], told: `taken back: ${record.told}` });
      });
      stores.facts.put(number + mine.length, "number");
    });
    await show();
    send();
  }

  // ---- photos, made smaller before they are kept
  const taken = (file) => new Date(file.lastModified || Date.now()).toISOString();
  async function smaller(file) {
    try {
      const drawn = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(1, LARGEST / Math.max(drawn.width, drawn.height)), canvas = document.createElement("canvas");
      canvas.width = Math.round(drawn.width * scale);
      canvas.height = Math.round(drawn.height * scale);
      canvas.getContext("2d").drawImage(drawn, 0, 0, canvas.width, canvas.height);
      return await new Promise((resolve) => { canvas.toBlob((blob) => resolve(blob ?? file), "image/jpeg", 0.85); });
    } catch {
      return file; // the server says what it cannot read
    }
  }

  // ---- sending: one tab at a time, the oldest first
  let pause = 0, resting = 0;
  function send(now = true) {
    if (!now && Date.now() < resting) return;
    (navigator.locks ? navigator.locks.request("reelkeep-send", { ifAvailable: true }, (lock) => lock && sendAll()) : sendAll())
      .catch(() => { pause = Math.min(LONGEST_PAUSE, (pause || EVERY) * 2); resting = Date.now() + pause; })
      .finally(show);
  }
  async function post(url, init) {
    const { token } = await (await fetch("/~/token/", { cache: "no-store" })).json();
    const answer = await fetch(url, { method: "POST", ...init, headers: { ...init.headers, "X-CSRFToken": token } });
    if (answer.status >= 500 || answer.status === 429) throw new Error(`status ${answer.status}`);
    return answer;
  }
  async function sendAll() {
    const closed = new Map(); // sites that take nothing from whoever is signed in
    for (;;) {
      const every = await records(), by = new Map(every.map((record) => [record.id, record]));
      const free = every.filter((record) => waits(record) && !closed.has(record.site)
        && record.after.every((id) => { const other = by.get(id); return !other || other.state !== "refused"; }));
      const batch = free.filter((record) => record.site === free[0].site).slice(0, BATCH);
      if (!batch.length) break;
      // Frozen from here on: when the answer is lost, the very same record goes again.
      await change((stores) => batch.forEach((record) => stores.records.put({ ...record, state: "sent" })));
      const sent = batch.map(({ kind, number, after, row }) => ({ kind, number, after, row }));
      const answer = await post(`/${batch[0].site}/records/`, {
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ device: await device(), clock: new Date().toISOString(), records: sent }),
      });
      if (!answer.ok) {
        closed.set(batch[0].site, answer.status);
        continue;
      }
      const told = (await answer.json()).records;
      await change((stores) => batch.forEach((record, at) => {
        const state = told[at].answer === "known" ? "kept" : told[at].answer;
        stores.records.put({ ...record, state, said: told[at].said, field: told[at].field });
      }));
      pause = 0;
      answered = true;
    }
    await fact("closed", Object.fromEntries(closed));
    for (const photo of await read("photos")) {
      if (photo.said || closed.has(photo.site)) continue;
      const data = new FormData();
      Object.entries({ id: photo.id, kind: photo.kind, record: photo.record, device_at: photo.taken }).forEach((pair) => data.append(...pair));
      data.append("file", photo.blob, "photo.jpg");
      const answer = await post(`/${photo.site}/photos/`, { body: data });
      if (answer.ok) await change(({ photos }) => photos.delete(photo.id));
      else if (answer.status === 422) {
        const { said } = await answer.json();
        await change(({ photos }) => photos.put({ ...photo, said }));
      } else break;
    }
    if (closed.size === 0) await freshen();
  }
  async function device() {
    let name = await fact("device");
    if (!name) await fact("device", name = crypto.randomUUID());
    return name;
  }
  const places = (row) => [...row.querySelectorAll("input:not([type=hidden])")];
  // What the server says now of the lines that were counted, without moving the page.
  async function freshen() {
    if (!answered || !document.querySelector("[data-fresh]")) return;
    answered = false;
    const answer = await fetch(location.href, { credentials: "same-origin" });
    if (!answer.ok || answer.redirected) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const old of document.querySelectorAll("[data-fresh]")) {
      const fresh = page.getElementById(old.id);
      const busy = old.contains(document.activeElement) || places(old).some((field) => field.value !== field.defaultValue);
      if (fresh && fresh.outerHTML !== old.outerHTML && !busy) old.replaceWith(fresh);
    }
    dress();
  }
  let answered = false; // whether the server took something since this page was shown

  // ---- what the page says of it
  function say(text, level) {
    const place = $("device-said");
    if (!place) return;
    place.className = `note ${level}`;
    place.textContent = text;
    place.hidden = false;
  }
  const element = (tag, text, name) => Object.assign(document.createElement(tag), { textContent: text, className: name ?? "" });
  const stands = (record) => `${record.told}: ${record.undone ? "taken back" : WORDS[record.state]}${record.said.length ? `. ${record.said.join(" ")}` : ""}`;

  async function show() {
    let every;
    try { every = await records(); } catch { return; } // a browser that keeps nothing says so when something is to be kept
    const waiting = every.filter(waits), photos = await read("photos"), closed = Object.values((await fact("closed")) ?? {});
    document.querySelectorAll(".on-phone").forEach((old) => old.remove());
    for (const line of document.querySelectorAll("[data-key]")) {
      const mine = every.filter((record) => record.page === location.pathname && (record.row.item ?? record.row.reel) === line.dataset.key && record.kind !== "reversals" && !record.undone);
      const act = mine.filter((record) => record.act === mine.at(-1).act);
      line.classList.remove("pending");
      if (!act.length || act.some((record) => record.id === line.dataset.last)) continue; // the page itself tells it
      const figures = act.map((record) => figure(record.row)).join(" + ");
      line.append(element("p", stands({ ...act.at(-1), told: figures, said: act.flatMap((record) => record.said) }), `on-phone ${act.at(-1).state}`));
      line.classList.toggle("pending", act.at(-1).state !== "refused");
    }
    const bar = $("device");
    if (bar) {
      const said = [];
      if (waiting.length || photos.length) said.push(`${waiting.length} record${waiting.length === 1 ? "" : "s"}${photos.length ? ` and ${photos.length} photo${photos.length === 1 ? "" : "s"}` : ""} on this phone, not sent`);
      if (closed.includes(401)) said.push("sign in to send them");
      if (closed.includes(404)) said.push("you are no member there: hand the phone to one who is");
      const bad = every.filter((record) => record.state === "refused").length;
      if (bad) said.push(`${bad} not taken`);
      bar.replaceChildren();
      if (said.length) bar.append(Object.assign(element("a", `${said.join("; ")}.`), { href: QUEUE }));
      const last = every.filter((record) => record.kind !== "reversals" && !record.undone && record.site === SITE).at(-1);
      if (last && SITE && Date.now() - new Date(last.made) < HOUR / 6) {
        const button = element("button", "Undo", "second");
        button.type = "button";
        button.onclick = () => undo(last.act);
        bar.append(element("span", stands(last)), button);
      }
      bar.hidden = !bar.childNodes.length;
    }
    document.dispatchEvent(new CustomEvent("queue", { detail: every }));
    if ($("queue")) list(every, photos);
    // What is in the books and was seen there needs no place here after a day.
    const old = every.filter((record) => ["kept", "look"].includes(record.state) && Date.now() - new Date(record.made) > 24 * HOUR);
    if (old.length) await change(({ records: store }) => old.forEach((record) => store.delete(record.id)));
  }

  function list(every, photos) {
    const waiting = every.filter(waits);
    $("queue-head").textContent = waiting.length || photos.length ? `${waiting.length + photos.length} on this phone, not sent` : "Everything is sent";
    $("send-now").hidden = $("save-sheets").hidden = !(waiting.length || photos.length);
    $("queue").replaceChildren(...every.slice().reverse().map((record) => {
      const row = element("li", "", `tag ${record.state === "refused" ? "late" : waits(record) ? "soon" : ""}`);
      const other = every.find((each) => record.after.includes(each.id) && each.state === "refused");
      row.append(element("strong", stands(record)), element("span", `${record.site}, ${new Date(record.made).toLocaleString()}`, "small"));
      if (other) row.append(element("span", `waits for ${other.told}, which was not taken`, "small"));
      if (record.state === "refused") {
        const cells = new URLSearchParams(Object.entries(record.row).filter(([name]) => name !== "id"));
        const gone = element("button", "Take it off this phone", "plain");
        gone.type = "button";
        gone.onclick = async () => { await change(({ records: store }) => store.delete(record.id)); show(); };
        row.append(Object.assign(element("a", "Mend it"), { href: `/${record.site}/act/${record.kind}/?${cells}` }), gone);
      }
      return row;
    }), ...photos.map((photo) => {
      const row = element("li", "", "tag soon");
      row.append(element("strong", photo.said ? `photo: not taken. ${photo.said}` : "photo: on this phone"));
      return row;
    }));
    keptPages();
  }
  async function keptPages() {
    const urls = [];
    for (const name of (await caches.keys()).filter((each) => each.startsWith("pages-"))) {
      for (const request of await (await caches.open(name)).keys()) urls.push(new URL(request.url).pathname);
    }
    $("kept").replaceChildren(...urls.map((url) => {
      const row = element("li", "");
      row.append(Object.assign(element("a", decodeURIComponent(url)), { href: url }));
      return row;
    }));
    const as_of = (await fact("kept"))?.as_of;
    $("kept-asof").textContent = as_of ? `As of ${new Date(as_of).toLocaleString()}.` : "None. Open the site once where there is signal.";
  }
  async function saveSheets() {
    const kinds = Map.groupBy ? Map.groupBy((await records()).filter(waits), (record) => record.kind) : new Map();
    const quoted = (cell) => `"${String(cell ?? "").replaceAll('"', '""')}"`;
    for (const [kind, mine] of kinds) {
      const columns = [...new Set(mine.flatMap((record) => Object.keys(record.row)))];
      const lines = [columns, ...mine.map((record) => columns.map((name) => record.row[name]))].map((cells) => cells.map(quoted).join(","));
      const link = Object.assign(document.createElement("a"), { download: `${kind}.csv`, href: URL.createObjectURL(new Blob([lines.join("\r\n")], { type: "text/csv" })) });
      link.click();
    }
  }

  // ---- pages that open without signal
  async function keepPages() {
    const before = await fact("kept");
    for (const name of await caches.keys()) {
      if (name.startsWith("pages-") && name !== `pages-${WHO}` && WHO) await caches.delete(name);
    }
    if (!SITE || !WHO || !navigator.onLine) return tellKept(before);
    if (before?.who === WHO && before.site === SITE && Date.now() - new Date(before.as_of) < HOUR && (await caches.has(`pages-${WHO}`))) return tellKept(before);
    const answer = await fetch(`/${SITE}/phone/`);
    if (!answer.ok) return tellKept(before);
    const { pages, as_of } = await answer.json(), cache = await caches.open(`pages-${WHO}`);
    for (const url of pages) {
      const page = await fetch(url);
      if (page.ok && !page.redirected) await cache.put(url, page);
    }
    for (const request of await cache.keys()) {
      const { pathname, search } = new URL(request.url);
      if (pathname.startsWith(`/${SITE}/`) && !pages.includes(pathname + search)) await cache.delete(request);
    }
    const kept = { who: WHO, site: SITE, as_of };
    await fact("kept", kept);
    return tellKept(kept);
  }
  function tellKept(kept) {
    const place = $("works");
    if (!place) return;
    const age = kept && kept.site === SITE ? Date.now() - new Date(kept.as_of) : Infinity;
    place.textContent = age === Infinity ? "Works without signal: no, open it once where there is signal."
      : `Works without signal: yes, as of ${new Date(kept.as_of).toLocaleString()}${age > 12 * HOUR ? ", which is old" : ""}.`;
  }
  async function forget() {
    for (const name of await caches.keys()) if (name.startsWith("pages-")) await caches.delete(name);
    await change(({ facts }) => facts.delete("kept"));
  }

  // ---- the page's own small helps
  function dress() {
    for (const field of document.querySelectorAll("input[data-step]:not([data-dressed])")) {
      field.dataset.dressed = "yes";
      const box = element("span", "", "stepper");
      field.replaceWith(box);
      const step = (text, by, label) => {
        const button = element("button", text, "second");
        button.type = "button";
        button.setAttribute("aria-label", `${label}: ${field.labels?.[0]?.textContent.trim() ?? ""}`);
        button.onclick = () => { field.value = String(Math.max(0, (Number(plainly(field.value)) || 0) + by)).replace(".", DECIMAL); };
        return button;
      };
      box.append(step("−", -1, "one less"), field, step("+", 1, "one more"));
    }
    document.querySelectorAll("[data-needs-script]").forEach((part) => { part.hidden = false; });
    for (const button of document.querySelectorAll("button[data-hold]:not([data-dressed])")) {
      button.dataset.dressed = "yes";
      button.append(" (hold)");
    }
    const words = $("words");
    if (words && !words.dataset.dressed) {
      words.dataset.dressed = "yes";
      const form = words.closest("form");
      form.addEventListener("input", () => { words.textContent = wordsFor(form, words.dataset); });
      form.querySelector("[formmethod=get]")?.setAttribute("hidden", "");
    }
  }
  // The sentences are the server's (kits/gate/paper_words.py); here they are only filled in.
  function wordsFor(form, said) {
    const data = new FormData(form), here = data.get("count"), { listed } = form.elements.count.dataset;
    const [missing, damaged] = ["missing", "damaged"].map((name) => data.getAll(name));
    const filled = (sentence, names) => sentence.replace("{here}", here).replace("{listed}", listed).replace("{names}", () => names?.join(", "));
    if (!here) return said.count;
    const sentences = [];
    if (missing.length || (Number(listed) && Number(here) !== Number(listed))) sentences.push(filled(Number(listed) ? said.receivedOf : said.received));
    if (missing.length) sentences.push(filled(said.missing, missing));
    if (damaged.length) sentences.push(filled(said.damaged, damaged));
    if (data.get("seal_whole") === "no") sentences.push(said.seal);
    return sentences.join(" ") || said.clean;
  }
  // What cannot be taken back in the world is held, not tapped: rain presses buttons.
  const HOLD = 500;
  let holding;
  document.addEventListener("pointerdown", (event) => {
    const button = event.target.closest("button[data-hold]");
    if (!button) return;
    button.classList.add("held");
    holding = setTimeout(() => { holding = undefined; button.classList.remove("held"); button.dataset.sure = "yes"; button.click(); }, HOLD);
  });
  for (const kind of ["pointerup", "pointercancel", "pointerleave"]) {
    document.addEventListener(kind, () => {
      clearTimeout(holding);
      document.querySelectorAll(".held").forEach((button) => button.classList.remove("held"));
    }, true);
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-hold]");
    if (!button) return;
    if (event.detail > 0 && !button.dataset.sure) event.preventDefault(); // a key has no rain
    delete button.dataset.sure;
  });

  // A grid goes up and down by arrows, whatever stands in its cells, and on by Enter.
  function beside(field, step) {
    const cell = field.closest(".grid td");
    if (!cell) return false;
    const rows = [...document.querySelectorAll(".grid tbody tr")], next = rows[rows.indexOf(cell.parentElement) + step];
    if (next) places(next.children[cell.cellIndex])[0]?.focus();
    return Boolean(next);
  }
  document.addEventListener("keydown", (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step && event.target.type !== "month" && beside(event.target, step)) event.preventDefault();
  });
  document.addEventListener("submit", (event) => {
    const form = event.target, pressed = event.submitter;
    if (form.action.endsWith("/~/sign-out/")) { forget(); return; }
    if (!form.dataset.record || pressed?.formMethod === "get" || !window.indexedDB) return;
    event.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "yes";
    keep(form, pressed).finally(() => { delete form.dataset.busy; });
  });
  window.addEventListener("online", () => { pause = resting = 0; send(); });
  setInterval(() => send(false), EVERY);
  setInterval(() => keepPages().catch(() => {}), HOUR);
  $("send-now")?.addEventListener("click", () => { pause = resting = 0; send(); });
  $("save-sheets")?.addEventListener("click", saveSheets);
  dress();
  show().then(() => send());
  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register("/~/worker.js", { scope: "/" }).then(() => navigator.serviceWorker.ready).then(keepPages).catch(() => tellKept());
  }
})();
