// The recorder: a real note through a fake microphone, offline then online; the server killed in mid-upload.
import { browser, complaints, enterBird, must, serve, story, until } from "./lib.mjs";
import { execFileSync } from "node:child_process";
import { createHash, randomBytes } from "node:crypto";
import { existsSync, mkdtempSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";

const folder = mkdtempSync(join(tmpdir(), "varvel-note-"));
const spoken = join(folder, "note.wav");
if (!existsSync("/usr/bin/espeak-ng")) {
  console.error("skip  phone: espeak-ng is missing, there is nothing to say to the microphone");
  process.exit(0);
}
execFileSync("espeak-ng", ["-v", "en-gb", "-s", "145", "-w", spoken, "Sedge, nine hundred and twelve grams, two and a half chicks."]);

// A port that can be taken again after the kill.
const port = await new Promise((ok) => { const s = createServer().listen(0, "127.0.0.1", () => { const p = s.address().port; s.close(() => ok(String(p))); }); });
const command = process.env.VARVEL_BIN.endsWith("preview") ? [process.env.VARVEL_BIN, "--empty"] : [process.env.VARVEL_BIN, "serve", "--port", port];
let house = await serve({ command, env: { PORT: port } });
const chrome = await browser({ sound: spoken });
const hand = { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, permissions: ["microphone"] };

await story("speak a note with no way home, open the page again, come home: it is kept once, as 16 kHz WAV", async () => {
  const context = await chrome.newContext(hand);
  const page = await context.newPage();
  const wrong = complaints(page);
  await enterBird(page, house.desk, "Sedge", { sex: "female", floor: "860" });
  await page.goto(house.desk + "/note");
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await page.reload();
  await until("the page is in the service worker's hand", () => page.evaluate(() => !!navigator.serviceWorker.controller));
  await context.setOffline(true);
  await page.locator("#rec").tap();
  await until("it records", () => page.locator("#rec[aria-pressed=true]").count());
  await until("five seconds are heard", async () => (await page.locator("#clock").textContent()) >= "0:05");
  await page.locator("#rec").tap();
  await until("the note waits on the phone", () => page.locator("#queue li[data-state=waits]").count());
  await until("it says that there is no way home", async () => (await page.locator("#home").textContent()).includes("No way home"));
  await page.goto(house.desk + "/note");
  must(await page.locator("#rec").isVisible(), "the page opens without signal");
  await until("the note still waits", () => page.locator("#queue li[data-state=waits]").count());
  await page.goto(house.desk + "/book").catch(() => {});
  await page.goto(house.desk + "/note");
  await context.setOffline(false);
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await until("the note is safe", () => page.locator("#queue li[data-state=safe]").count());
  await page.goto(house.desk + "/evidence");
  const links = await page.locator("a[href^='/evidence/note/']").count();
  must(links === 1, `one note came home, not ${links}`);
  const src = await page.locator("audio").first().getAttribute("src");
  const wav = await (await page.request.get(house.desk + src)).body();
  must(wav.subarray(0, 4).toString() === "RIFF" && wav.readUInt32LE(24) === 16000 && wav.readUInt16LE(22) === 1, "16 kHz, one channel");
  const samples = new Int16Array(wav.buffer.slice(wav.byteOffset + 44));
  const loud = Math.max(...samples.map(Math.abs));
  must(samples.length > 4 * 16000 && loud > 1500, `${samples.length} samples, loudest ${loud}: the note is heard`);
  // What the microphone heard is read by the speech model, where one is installed.
  const now = await until("the note is read", async () => {
    const counts = await (await page.request.get(house.desk + "/waiting.json")).json();
    return counts.busy === 0 && counts;
  });
  if (now.failed) console.error("      the words were not checked: no speech model is installed");
  else {
    await page.goto(house.desk + "/confirm");
    must((await page.locator(".slip").allTextContents()).some((t) => /912/.test(t)), "912 grams was heard: " + (await page.locator(".said").allTextContents()).join(" | "));
    must(await page.locator(".slip .hear").count() > 0, "the words can be heard again");
  }
  must(wrong.filter((w) => !w.includes("ServiceWorker")).length === 0, "complaints: " + wrong.join("; "));
});

await story("the server is killed in mid-upload: the note waits, goes on where it stopped, and is kept once", async () => {
  const context = await chrome.newContext(hand);
  const page = await context.newPage();
  await page.goto(house.desk + "/note");
  const before = await notes(page);
  const sound = Buffer.concat([wavHead(4_000_000), randomBytes(4_000_000)]);
  const file = join(folder, "long.wav");
  writeFileSync(file, sound);
  const sha = createHash("sha256").update(sound).digest("hex");
  const slow = await context.newCDPSession(page);
  await slow.send("Network.enable");
  await slow.send("Network.emulateNetworkConditions", { offline: false, latency: 20, downloadThroughput: 1e6, uploadThroughput: 250_000 });
  const taken = [];
  page.on("response", (r) => { if (r.request().method() === "PUT" && r.ok()) taken.push(Number(new URL(r.url()).searchParams.get("at"))); });
  await page.locator("#file").setInputFiles(file);
  await until("some of it is sent", () => page.locator("#queue progress").count());
  const part = (await (await page.request.get(`${house.desk}/intake/${sha}`)).json());
  must(part.state === "half" && part.have > 0 && part.have < sound.length, "killed while half done: " + JSON.stringify(part));
  await house.stop("SIGKILL");
  await until("the phone says so and keeps it", async () => (await page.locator("#home").textContent()).includes("No way home"));
  must(await page.locator("#queue li[data-state=waits]").count() === 1, "it still waits on the phone");
  house = await serve({ command, home: house.home, env: { PORT: port } });
  const there = (await (await page.request.get(`${house.desk}/intake/${sha}`)).json());
  if (!process.env.VARVEL_BIN.endsWith("preview")) must(there.have >= part.have, `what was sent is still there: ${there.have} of ${part.have}`);
  await slow.send("Network.emulateNetworkConditions", { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
  await until("it is safe at home", () => page.locator("#queue li[data-state=safe]").count());
  const home = await (await page.request.get(`${house.desk}/original/${sha}`)).body();
  must(createHash("sha256").update(home).digest("hex") === sha, "byte for byte");
  must(new Set(taken).size === taken.length, "each piece was taken once: " + taken.join(", "));
  // Sent once more, it is known and not kept a second time.
  await page.locator("#file").setInputFiles(file);
  await until("it is known", async () => (await page.locator("#queue li[data-state=safe]").count()) && !(await page.locator("#queue li[data-state=waits]").count()));
  must(await notes(page) === before + 1, `one more note is in the record, not ${await notes(page) - before}`);
});

async function notes(page) {
  return ((await (await page.request.get(house.desk + "/evidence")).text()).match(/"\/evidence\/note\//g) || []).length;
}

function wavHead(size) {
  const h = Buffer.alloc(44);
  h.write("RIFF", 0); h.writeUInt32LE(36 + size, 4); h.write("WAVEfmt ", 8); h.writeUInt32LE(16, 16); h.writeUInt16LE(1, 20); h.writeUInt16LE(1, 22);
  h.writeUInt32LE(16000, 24); h.writeUInt32LE(32000, 28); h.writeUInt16LE(2, 32); h.writeUInt16LE(16, 34); h.write("data", 36); h.writeUInt32LE(size, 40);
  return h;
}

await chrome.close();
await house.stop();
house.clear();
