// Everything here makes the page quicker or lets it work without home; confirming works without it.
"use strict";
const $ = (q, from = document) => from.querySelector(q);
const $$ = (q, from = document) => [...from.querySelectorAll(q)];
const tell = (words) => { const t = $("#told"); if (t) { t.textContent = ""; setTimeout(() => { t.textContent = words; }, 60); } };

/* Forms that answer in place: send, take the new page's middle, keep the eye where it was. */
document.addEventListener("submit", async (e) => {
  const form = e.target;
  if (!form.matches("[data-quick]") || form.enctype === "multipart/form-data") return;
  e.preventDefault();
  const slip = form.closest(".slip, .note");
  const order = slip ? $$(".slip").indexOf(slip.matches(".slip") ? slip : $(".slip", slip)) : -1;
  const buttons = $$("button", form);
  buttons.forEach((b) => { b.disabled = true; });
  try {
    const body = new URLSearchParams(new FormData(form, e.submitter));
    const answer = await fetch(form.action, { method: "POST", body, redirect: "follow" });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = $("main", page);
    if (!fresh) throw new Error("no page");
    $("main").replaceWith(document.adoptNode(fresh));
    const links = $(".strap", page);
    if (links) $(".strap").replaceWith(document.adoptNode(links));
    document.title = page.title;
    if (answer.redirected) history.replaceState(null, "", answer.url);
    ready();
    const news = $("[data-news]");
    if (news) tell(news.textContent.trim());
    const slips = $$(".slip");
    const next = !answer.ok ? $("[data-news]") : slips[Math.min(Math.max(order, 0), slips.length - 1)] || $("main");
    if (next) { if (!next.hasAttribute("tabindex")) next.tabIndex = -1; next.focus({ preventScroll: true }); next.scrollIntoView({ block: "nearest" }); }
  } catch (lost) {
    buttons.forEach((b) => { b.disabled = false; });
    tell("Home did not answer. Nothing was changed; try again.");
    alert("Home did not answer. Nothing was changed; try again.");
  }
});

/* Hearing exactly the words an entry came from. */
let playing = null;
function hear(button) {
  const { src, from, to } = button.dataset;
  if (playing) { playing.pause(); if (playing.of === button) { playing = null; return; } }
  const sound = new Audio(src);
  sound.of = button;
  playing = sound;
  sound.addEventListener("loadedmetadata", () => { sound.currentTime = Number(from || 0); sound.play().catch(() => tell("The sound cannot be played here.")); }, { once: true });
  sound.addEventListener("error", () => tell("The sound cannot be played here."), { once: true });
  const stop = setInterval(() => {
    if (to && sound.currentTime >= Number(to)) sound.pause();
    if (sound.paused && sound.currentTime > Number(from || 0) || sound.ended || playing !== sound) { sound.pause(); clearInterval(stop); button.removeAttribute("data-on"); }
  }, 30);
  button.dataset.on = "1";
  sound.load();
}
document.addEventListener("click", (e) => {
  const b = e.target.closest(".hear");
  if (b) hear(b);
  const mark = e.target.closest("mark[data-slip]");
  if (mark) document.getElementById(mark.dataset.slip)?.focus();
  if (e.target.closest("[data-print]")) print();
});

/* Keys, only while a slip has the focus. */
document.addEventListener("keydown", (e) => {
  const slip = document.activeElement?.closest?.(".slip");
  if (!slip || e.ctrlKey || e.metaKey || e.altKey || e.target.matches("input, select, textarea, summary, button, a, audio")) return;
  const slips = $$(".slip");
  const move = (by) => slips[slips.indexOf(slip) + by]?.focus();
  const press = (q, from = slip) => $(q, from)?.click();
  const keys = {
    j: () => move(1), ArrowDown: () => move(1), k: () => move(-1), ArrowUp: () => move(-1),
    Enter: () => press("[data-key=confirm]"), y: () => press("[data-key=confirm]"), x: () => press("[data-key=reject]"),
    e: () => { press("summary"); $("details input, details select, details textarea", slip)?.focus(); },
    p: () => press(".hear"), a: () => press("[data-key=all]", slip.closest(".note")), u: () => press("[data-key=undo]", document),
  };
  if (keys[e.key]) { e.preventDefault(); keys[e.key](); }
});

/* What the phone keeps until home has it. */
const box = () => new Promise((ok, no) => {
  const open = indexedDB.open("varvel", 1);
  open.onupgradeneeded = () => { open.result.createObjectStore("queue", { keyPath: "id" }); open.result.createObjectStore("pieces", { autoIncrement: true }); };
  open.onsuccess = () => ok(open.result);
  open.onerror = () => no(open.error);
});
async function kept(store, mode, act) {
  const db = await box();
  try {
    return await new Promise((ok, no) => {
      const work = db.transaction(store, mode, { durability: "strict" });
      const asked = act(work.objectStore(store));
      work.oncomplete = () => ok(asked?.result);
      work.onerror = work.onabort = () => no(work.error);
    });
  } finally { db.close(); }
}
const queue = {
  all: () => kept("queue", "readonly", (s) => s.getAll()).then((a) => a.sort((x, y) => y.made.localeCompare(x.made))),
  put: (one) => kept("queue", "readwrite", (s) => s.put(one)),
  drop: (id) => kept("queue", "readwrite", (s) => s.delete(id)),
};
const hex = (b) => [...new Uint8Array(b)].map((x) => x.toString(16).padStart(2, "0")).join("");
const PIECE = 256 * 1024;
const localTime = (d) => { const z = -d.getTimezoneOffset(); const p = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  return new Date(d.getTime() + z * 60000).toISOString().slice(0, 19) + (z < 0 ? "-" : "+") + p(z / 60) + ":" + p(z % 60); };

async function keep(kind, name, bytes, made = new Date()) {
  const sha = hex(await crypto.subtle.digest("SHA-256", bytes));
  const bird = $("#bird")?.value || "";
  await queue.put({ id: sha, kind, name, bytes, size: bytes.byteLength, sent: 0, made: localTime(made), bird, state: "waits", why: "" });
  navigator.storage?.persist?.();
  await show();
  send();
}

let sending = false, held = false;
async function send() {
  if (sending || held) return;
  sending = true;
  let reached = null;
  try {
    for (const one of (await queue.all()).reverse().filter((q) => q.state === "waits")) {
      const at = "/intake/" + one.id;
      let have = await ask(at);
      reached = true;
      while (have.state !== "kept") {
        if (held) throw Object.assign(new Error("held"), { held });
        const more = new URLSearchParams({ at: have.have, of: one.size, kind: one.kind, name: one.name, made: one.made, bird: one.bird });
        const piece = one.bytes.slice(have.have, have.have + PIECE);
        have = await ask(at + "?" + more, { method: "PUT", body: piece, headers: { "content-type": "application/octet-stream" } });
        one.sent = have.have;
        await queue.put(one);
        await show();
      }
      // Only now does the phone let go of its copy: home has it on disk.
      await queue.put({ ...one, bytes: null, sent: one.size, state: "safe", safe: localTime(new Date()) });
      await show();
    }
    if (reached === null) { await ask("/alive"); reached = true; }
  } catch (e) {
    if (e.held) reached = true;
    else if (e.refused) {
      reached = true;
      if (e.one) await queue.put({ ...(await queue.all()).find((q) => q.id === e.one), state: "refused", why: e.message });
    } else reached = false;
  }
  sending = false;
  await show(reached);
  if (reached && !held && (await queue.all()).some((q) => q.state === "waits")) setTimeout(send, 800);
}
async function ask(url, how = {}) {
  const answer = await fetch(url, { cache: "no-store", signal: AbortSignal.timeout(30000), ...how });
  if (answer.status === 409) return answer.json();
  if (answer.ok) return (answer.headers.get("content-type") || "").includes("json") ? answer.json() : {};
  const why = await answer.text();
  if (answer.status >= 500 || answer.status === 408 || answer.status === 429) throw new Error(why);
  throw Object.assign(new Error(why.slice(0, 300)), { refused: true, one: answer.status === 401 ? null : url.split("/")[2]?.split("?")[0] });
}

const SIGN = { waits: ["or", "Waits on this phone"], safe: ["vert", "Safe at home"], refused: ["gules", "Home would not take it"] };
async function show(reached) {
  const list = $("#queue");
  if (!list) return;
  const all = await queue.all();
  const waits = all.filter((q) => q.state !== "safe");
  list.replaceChildren(...all.slice(0, 40).map((q) => {
    const li = document.createElement("li");
    const [enamel, words] = SIGN[q.state] || SIGN.waits;
    li.innerHTML = `<svg viewBox="0 0 28 28" aria-hidden="true"><circle cx="14" cy="14" r="12" fill="url(#hatch-${enamel})" stroke="currentColor" stroke-width="2"></circle></svg><div><strong></strong><br><span></span></div>`;
    $("strong", li).textContent = words;
    $("span", li).textContent = `${{ sound: "Note", photo: "Photo", text: "Written note" }[q.kind]} of ${q.made.slice(0, 16).replace("T", ", ")}${q.why ? ": " + q.why : ""}`;
    li.dataset.state = q.state;
    if (q.state === "waits" && q.sent > 0) { const bar = document.createElement("progress"); bar.max = q.size; bar.value = q.sent; bar.setAttribute("aria-label", "Sent"); $("div", li).append(bar); }
    if (q.state === "refused") {
      const again = Object.assign(document.createElement("button"), { textContent: "Try again", type: "button" });
      again.onclick = async () => { await queue.put({ ...q, state: "waits", why: "" }); send(); };
      $("div", li).append(document.createElement("br"), again);
    }
    return li;
  }));
  $("#none").hidden = all.length > 0;
  const hold = $("#hold");
  hold.hidden = !held && !waits.some((q) => q.state === "waits");
  hold.textContent = held ? "Go on sending" : "Stop sending";
  hold.setAttribute("aria-pressed", String(held));
  const state = $("#home");
  if (reached !== undefined) { state.dataset.reached = reached; }
  const away = state.dataset.reached === "false";
  const words = (held ? "Sending is stopped. " : away ? "No way home just now. " : "") + (waits.length ? `${waits.length} waiting on this phone.` : "Everything is safe at home.");
  if (state.textContent !== words) state.textContent = words;
}

/* The recorder: 16 kHz, one channel, kept piece by piece so that nothing is lost when the phone sleeps. */
const RATE = 16000, LONGEST = 10 * 60, QUIET = 3;
let rec = null;
async function listen() {
  const stream = await navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, noiseSuppression: false, echoCancellation: false, autoGainControl: true } });
  let ctx = new AudioContext({ sampleRate: RATE }), source;
  try { source = ctx.createMediaStreamSource(stream); } catch { ctx.close(); ctx = new AudioContext(); source = ctx.createMediaStreamSource(stream); }
  await ctx.audioWorklet.addModule(document.body.dataset.ear);
  const ear = new AudioWorkletNode(ctx, "ear", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
  source.connect(ear);
  rec = { stream, ctx, ear, rate: ctx.sampleRate, parts: [], before: [], heard: 0, quiet: 0, floor: 0.01, on: false, made: new Date(), free: $("#free").checked };
  ear.port.onmessage = (m) => sound(m.data);
  wake(true);
  if (!rec.free) begin();
  face();
}
function begin() { rec.on = true; rec.made = new Date(); rec.parts = rec.before; rec.before = []; rec.heard = rec.parts.reduce((n, p) => n + p.length, 0); rec.quiet = 0; navigator.vibrate?.(40); tell("Recording."); }
function sound(part) {
  if (!rec) return;
  const level = Math.sqrt(part.reduce((n, x) => n + x * x, 0) / part.length);
  const loud = level > Math.max(0.012, rec.floor * 3);
  ringLevel(level);
  if (!rec.on) {
    rec.floor = rec.floor * 0.95 + level * 0.05;
    rec.before.push(part); if (rec.before.length > 8) rec.before.shift();
    if (loud) { begin(); face(); }
    return;
  }
  rec.parts.push(part);
  rec.heard += part.length;
  const small = Int16Array.from(part, (x) => Math.max(-1, Math.min(1, x)) * 32767);
  kept("pieces", "readwrite", (s) => s.add({ made: localTime(rec.made), rate: rec.rate, small })).catch(() => {});
  rec.quiet = loud ? 0 : rec.quiet + part.length / rec.rate;
  const t = rec.heard / rec.rate;
  $("#clock").textContent = `${Math.floor(t / 60)}:${String(Math.floor(t % 60)).padStart(2, "0")}`;
  if (t > LONGEST) { tell("Ten minutes are full. The note is kept."); stop(); }
  else if (rec.free && rec.quiet > QUIET) done();
}
async function done() {
  const { parts, rate, made } = rec;
  rec.on = false; rec.parts = []; rec.before = [];
  navigator.vibrate?.([30, 60, 30]);
  face();
  const own = await kept("pieces", "readonly", (s) => s.getAllKeys());
  const bytes = wav(sixteen(parts, rate));
  await keep("sound", "note-" + localTime(made).slice(0, 19).replaceAll(":", "") + ".wav", bytes, made);
  // Without hands the next note may have begun meanwhile: its pieces stay.
  if (own.length) await kept("pieces", "readwrite", (s) => s.delete(IDBKeyRange.upperBound(own[own.length - 1])));
  tell("Note kept.");
}
async function stop() {
  const was = rec;
  if (was.on) await done();
  rec = null;
  was.ear.port.onmessage = null;
  was.stream.getTracks().forEach((t) => t.stop());
  was.ctx.close();
  wake(false);
  face();
}
// A recording cut off by the phone is put together from its pieces at the next start.
async function rescue() {
  const pieces = await kept("pieces", "readonly", (s) => s.getAll());
  if (!pieces.length) return;
  const parts = pieces.map((p) => Float32Array.from(p.small, (x) => x / 32767));
  await keep("sound", "note-rescued-" + pieces[0].made.replaceAll(":", "").slice(0, 17) + ".wav", wav(sixteen(parts, pieces[0].rate)), new Date(pieces[0].made));
  await kept("pieces", "readwrite", (s) => s.clear());
  tell("A recording that was cut off has been kept.");
}
function sixteen(parts, rate) {
  const all = new Float32Array(parts.reduce((n, p) => n + p.length, 0));
  let at = 0;
  for (const p of parts) { all.set(p, at); at += p.length; }
  if (rate === RATE) return all;
  // Windowed sinc, cut at the lower of both Nyquist limits.
  const step = rate / RATE, cut = Math.min(1, 1 / step), half = Math.ceil(16 / cut), out = new Float32Array(Math.floor(all.length / step));
  for (let i = 0; i < out.length; i++) {
    const mid = i * step; let sum = 0;
    for (let k = Math.ceil(mid - half); k <= mid + half; k++) {
      if (k < 0 || k >= all.length) continue;
      const x = (k - mid) * cut, w = 0.5 + 0.5 * Math.cos(Math.PI * (k - mid) / half);
      sum += all[k] * w * cut * (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x));
    }
    out[i] = sum;
  }
  return out;
}
function wav(samples) {
  const v = new DataView(new ArrayBuffer(44 + samples.length * 2));
  const text = (at, t) => [...t].forEach((c, i) => v.setUint8(at + i, c.charCodeAt(0)));
  text(0, "RIFF"); v.setUint32(4, 36 + samples.length * 2, true); text(8, "WAVEfmt "); v.setUint32(16, 16, true); v.setUint16(20, 1, true); v.setUint16(22, 1, true);
  v.setUint32(24, RATE, true); v.setUint32(28, RATE * 2, true); v.setUint16(32, 2, true); v.setUint16(34, 16, true); text(36, "data"); v.setUint32(40, samples.length * 2, true);
  samples.forEach((x, i) => v.setInt16(44 + i * 2, Math.max(-1, Math.min(1, x)) * 32767, true));
  return v.buffer;
}
function ringLevel(level) {
  const turn = Math.min(0.999, Math.max(0, (20 * Math.log10(level + 1e-6) + 55) / 50)) * 2 * Math.PI;
  const x = 100 + 84 * Math.sin(turn), y = 100 - 84 * Math.cos(turn);
  $("#level")?.setAttribute("d", turn > 0.02 ? `M100 16A84 84 0 ${turn > Math.PI ? 1 : 0} 1 ${x.toFixed(1)} ${y.toFixed(1)}` : "");
}
function face() {
  const b = $("#rec");
  b.setAttribute("aria-pressed", String(!!rec?.on));
  $("span", b).textContent = !rec ? "Speak" : rec.on ? "Stop" : "Listening";
  if (!rec) { ringLevel(0); $("#clock").textContent = "0:00"; }
}
let lock = null;
async function wake(on) { try { if (on) lock = await navigator.wakeLock?.request("screen"); else { lock?.release(); lock = null; } } catch { lock = null; } }

/* While notes are being read, look now and then whether they are; not while somebody is typing. */
setInterval(async () => {
  if (!$("[data-busy]") || document.hidden || $("details[open] form") || playing && !playing.paused) return;
  const now = await fetch("/waiting.json").then((r) => r.ok ? r.json() : null).catch(() => null);
  if (!now || !$("[data-busy]") || $("details[open] form")) return;
  const page = new DOMParser().parseFromString(await (await fetch("/confirm")).text(), "text/html");
  const fresh = $("main", page);
  if (!fresh || now.waiting === $$(".slip").length && now.busy > 0) return;
  const focus = document.activeElement?.id;
  $("main").replaceWith(document.adoptNode(fresh));
  ready();
  if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
  tell(`${now.waiting} waiting for your word.`);
}, 3000);

function ready() {
  $$("[data-js]").forEach((n) => { n.hidden = false; });
  $$("[data-nojs]").forEach((n) => { n.hidden = true; });
  if (!$("#rec") || $("#rec").dataset.ready) return;
  $("#rec").dataset.ready = "1";
  $("#rec").addEventListener("click", async () => {
    if (rec) return stop();
    try { await listen(); } catch (no) {
      $("#deaf").hidden = false;
      $("#deaf").textContent = isSecureContext ? "The microphone is not allowed here. Allow it for this page in the phone’s settings, or choose a recording below." : "This phone will not lend its microphone until it trusts this page: see Settings, Phones. Or choose a recording below.";
      $("[data-fallback]").hidden = false;
    }
  });
  $("#hold").addEventListener("click", () => { held = !held; show(); send(); });
  for (const [id, kind] of [["photo", "photo"], ["file", "sound"]])
    $("#" + id).addEventListener("change", async (e) => {
      for (const f of e.target.files) await keep(kind, f.name, await f.arrayBuffer(), new Date(f.lastModified || Date.now()));
      e.target.value = "";
      tell("Kept.");
    });
  $("#write").addEventListener("submit", async (e) => {
    e.preventDefault();
    const words = $("#words").value.trim();
    if (!words) return;
    // The moment stands before the words, so that the same words another day are another note.
    const now = new Date();
    await keep("text", "note.txt", new TextEncoder().encode(localTime(now) + "\n" + words).buffer, now);
    $("#words").value = "";
    tell("Kept.");
  });
  fetch("/birds.json").then((r) => r.ok ? r.json() : null).then((j) => {
    if (!j) return;
    const was = $("#bird").value;
    $("#bird").replaceChildren(new Option("as said in the note", ""), ...j.birds.map((b) => new Option(b, b)));
    $("#bird").value = was;
  }).catch(() => {});
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  setInterval(send, 15000);
  rescue().catch(() => {}).then(() => show()).then(send);
}
ready();
if ("serviceWorker" in navigator && isSecureContext && $(".strap")) navigator.serviceWorker.register("/sw.js").catch(() => {});
