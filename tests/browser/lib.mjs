// What the browser tests share: a program in a folder of its own, and a real chromium to look at it with.
import { chromium } from "playwright-core";
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync", "--lang=en-GB"];

/** How long a page may take before a test gives up, ms: the machine may be busy with other work. */
const PATIENCE = 120_000;

/** Starts `varvel serve` (with VARVEL_ARGS another command of the program, or what `command` says) and waits until it tells where it is. */
export async function serve({ command = [process.env.VARVEL_BIN, ...(process.env.VARVEL_ARGS || "serve --port 0").split(" ")], home, env = {} } = {}) {
  const own = home || mkdtempSync(join(tmpdir(), "varvel-browser-"));
  // In a group of its own: a wrapper such as faketime does not pass signals on.
  const program = spawn(command[0], command.slice(1), { env: { ...process.env, VARVEL_HOME: own, TZ: "UTC", ...env }, stdio: ["ignore", "pipe", "pipe"], detached: true });
  let heard = "", told = "";
  program.stderr.on("data", (d) => { told += d; });
  const where = await new Promise((ok, no) => {
    const late = setTimeout(() => no(new Error("the program did not start in two minutes: " + told)), 120_000);
    program.stdout.on("data", (d) => {
      heard += d;
      const line = heard.split("\n").find((l) => l.startsWith("{") && l.includes('"desk"'));
      if (line && heard.includes("\n")) { clearTimeout(late); ok(JSON.parse(line)); }
    });
    program.on("exit", (code) => { clearTimeout(late); no(new Error(`the program ended with ${code}: ${told}`)); });
  });
  const ended = new Promise((ok) => program.on("exit", ok));
  return {
    ...where, home: own, program,
    async stop(signal = "SIGTERM") { process.kill(-program.pid, signal); await ended; },
    clear() { rmSync(own, { recursive: true, force: true }); },
  };
}

/** Opens a browser; `sound` is a WAV file that its microphone hears. */
export async function browser({ sound, args = [] } = {}) {
  const mic = sound ? ["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", `--use-file-for-fake-audio-capture=${sound}%noloop`] : [];
  const chrome = await chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: [...FLAGS, ...mic, ...args], timeout: PATIENCE });
  const open = chrome.newContext.bind(chrome);
  chrome.newContext = async (how = {}) => {
    const context = await open({ locale: "en-GB", timezoneId: "UTC", ...how });
    context.setDefaultTimeout(PATIENCE);
    return context;
  };
  chrome.newPage = async (how) => (await chrome.newContext(how)).newPage();
  return chrome;
}

/** Fails with a sentence. */
export function must(right, words) {
  if (!right) throw new Error(words);
}

/** Asks again until it is so, for a while. */
export async function until(words, ask, seconds = 120) {
  const end = Date.now() + seconds * 1000;
  for (;;) {
    const got = await ask();
    if (got) return got;
    if (Date.now() > end) throw new Error(`waited ${seconds} s for: ${words}`);
    await new Promise((ok) => setTimeout(ok, 250));
  }
}

/** Listens for everything a page complains of: script errors and what the content policy stopped. */
export function complaints(page) {
  const all = [];
  page.on("pageerror", (e) => all.push(String(e)));
  page.on("console", (m) => { if (m.type() === "error" && !/Failed to load resource|net::ERR/.test(m.text())) all.push(m.text()); });
  return all;
}

/** Enters a bird by the page's own form. */
export async function enterBird(page, desk, name, fields = {}) {
  await page.goto(desk + "/birds/new");
  await page.fill("#name", name);
  for (const [field, value] of Object.entries(fields)) {
    if (field === "sex") await page.selectOption("#sex", value); else await page.fill("#" + field, value);
  }
  await page.click("button.main");
  await page.waitForURL(/\/birds\/[^/]+$/);
}

/** Runs a story and says how it went; ONLY picks stories by a part of their name. */
export async function story(name, tell) {
  if (process.env.ONLY && !name.includes(process.env.ONLY)) return;
  const start = Date.now();
  try {
    await tell();
    console.error(`ok    ${name} (${((Date.now() - start) / 1000).toFixed(1)} s)`);
  } catch (e) {
    console.error(`FAIL  ${name}\n${e.stack}`);
    process.exitCode = 1;
  }
}
