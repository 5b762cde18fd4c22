// Every page: no violation that axe-core finds, contrast AAA, targets of 48 px, no sideways scroll; and it looks as it did.
// The made-up record and its date are fixed, so that pictures can be compared. UPDATE=1 takes new ones.
import { browser, complaints, must, serve, story } from "./lib.mjs";
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { fileURLToPath } from "node:url";
import pixelmatch from "pixelmatch";
import { PNG } from "pngjs";

const preview = process.env.VARVEL_PREVIEW;
if (!preview) {
  console.error("skip  look: VARVEL_PREVIEW is not set (cargo build -p page --example preview)");
  process.exit(0);
}
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const golden = fileURLToPath(new URL("golden/", import.meta.url));
// Letters differ by a hair between machines; a moved or missing part differs by more.
const TOLERANCE = 0.006;

const clock = existsSync("/usr/bin/faketime") ? ["faketime", "2026-11-24 09:30:00"] : [];
const still = { FAKETIME_DONT_FAKE_MONOTONIC: "1" };
// A drawn scale, so that a photo stands beside a weight.
const scale = [fileURLToPath(new URL("scale.png", import.meta.url))];
const full = await serve({ command: [...clock, preview, ...scale], env: { ...still, PORT: "0" } });
const bare = await serve({ command: [...clock, preview, "--empty", "--lan"], env: { ...still, PORT: "0" } });
const chrome = await browser();

const LISTED = ["/", "/confirm", "/note", "/book", "/birds", "/evidence", "/words", "/reports", "/settings"];
const page0 = await chrome.newPage();
await page0.goto(full.desk + "/birds");
const bird = await page0.locator("section.bird h2 a").first().getAttribute("href");
await page0.goto(full.desk + "/evidence");
const note = await page0.locator("a[href^='/evidence/note/']").first().getAttribute("href");
await page0.goto(full.desk + note);
const entry = await page0.locator("a[href^='/evidence/entry/']").first().getAttribute("href");
await page0.close();
const id = bird.split("/").pop();
// The phone's side: trusting this machine, before it is let in, and refused.
const STRANGER = [bare.porch + "/trust", bare.phones + "/pair?code=none", bare.phones + "/confirm"];
const PICTURES = [
  ["today", full.desk + "/"], ["confirm", full.desk + "/confirm"], ["note", full.desk + "/note"], ["book", full.desk + "/book"],
  ["birds", full.desk + "/birds"], ["bird", full.desk + bird], ["bird-new", full.desk + "/birds/new"], ["evidence", full.desk + "/evidence"],
  ["entry", full.desk + entry], ["words", full.desk + "/words"], ["reports", full.desk + "/reports"], ["vet", `${full.desk}/reports/vet?bird=${id}`],
  ["settings", full.desk + "/settings"], ["more", full.desk + "/more"], ["today-empty", bare.desk + "/"], ["confirm-empty", bare.desk + "/confirm"],
  ["trust", STRANGER[0]], ["pair", STRANGER[1]],
];
const SIZES = [["360x740", { width: 360, height: 740 }], ["1280x800", { width: 1280, height: 800 }]];
const EVERY = [...LISTED, "/birds/new", "/more", bird, bird + "/edit", note, entry, ...["day-book", "vet", "inspector"].map((r) => `/reports/${r}?bird=${id}`)];

// By night only the colours are others: there axe looks at contrast alone, and the rest was looked at by day.
async function audit(page, where, night) {
  await page.evaluate(axe + ";0");
  const found = await page.evaluate((night) => axe.run(document, night ? { runOnly: ["color-contrast", "color-contrast-enhanced"] } : {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    rules: { "color-contrast-enhanced": { enabled: true }, "target-size": { enabled: true } },
  }), night);
  const told = found.violations.map((v) => `${v.id}: ${v.help}\n    ${v.nodes.slice(0, 4).map((n) => n.html.slice(0, 160) + " | " + (n.any[0]?.message || "")).join("\n    ")}`);
  must(told.length === 0, `${where}\n  ${told.join("\n  ")}`);
  // Every target is 48 px and more; a link inside a sentence is as high as its line (WCAG 2.5.8, inline),
  // and a point of a chart has its like in the table below it (the same, equivalent).
  const small = await page.evaluate(() => [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, label.press, audio, [role=button], [tabindex='0']")]
    .filter((e) => e.checkVisibility({ visibilityProperty: true }) && !e.closest("svg, .aside, .skip"))
    .filter((e) => !(e.matches("a:not(.press)") && e.parentElement.textContent.trim().length > e.textContent.trim().length + 2))
    .map((e) => [(e.closest("label.tickbox") || e).getBoundingClientRect(), e.outerHTML.slice(0, 90)])
    .filter(([r]) => r.width > 1 && (r.height < 47.5 || r.width < 47.5)).map(([r, h]) => `${r.width.toFixed(0)}×${r.height.toFixed(0)} ${h}`));
  must(small.length === 0, `${where} has small targets:\n  ${small.slice(0, 12).join("\n  ")}`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  must(wide <= 0, `${where} scrolls sideways by ${wide} px`);
}

for (const [size, viewport] of SIZES)
  for (const colorScheme of ["light", "dark"])
    await story(`every page at ${size}, ${colorScheme}`, async () => {
      const page = await (await chrome.newContext({ viewport, colorScheme, reducedMotion: "reduce", ignoreHTTPSErrors: true })).newPage();
      const wrong = complaints(page), faults = [];
      const paths = [...EVERY.map((p) => full.desk + p), ...LISTED.map((p) => bare.desk + p), ...STRANGER];
      for (const path of paths) {
        await page.goto(path);
        await audit(page, `${path.replace(full.desk, "")} at ${size}, ${colorScheme}`, colorScheme === "dark").catch((e) => faults.push(e.message));
      }
      await page.goto(bare.desk + "/settings");
      await page.getByRole("button", { name: "Let a phone in" }).click();
      await audit(page, `letting a phone in at ${size}, ${colorScheme}`, colorScheme === "dark").catch((e) => faults.push(e.message));
      must(faults.length === 0, faults.join("\n"));
      must(wrong.length === 0, "complaints: " + wrong.join("; "));
    });

await story("at 320 px nothing scrolls sideways, opened or closed", async () => {
  const page = await (await chrome.newContext({ viewport: { width: 320, height: 640 } })).newPage();
  for (const path of [...EVERY.map((p) => full.desk + p), ...LISTED.map((p) => bare.desk + p)]) {
    await page.goto(path);
    await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    must(wide <= 0, `${path} scrolls sideways by ${wide} px`);
  }
});

await story("the first page is there within a second on a slow phone", async () => {
  const page = await (await chrome.newContext({ viewport: { width: 360, height: 740 } })).newPage();
  const slow = await page.context().newCDPSession(page);
  await slow.send("Emulation.setCPUThrottlingRate", { rate: 4 });
  await slow.send("Network.emulateNetworkConditions", { offline: false, latency: 60, downloadThroughput: 200_000, uploadThroughput: 90_000 });
  await page.goto(full.desk + "/");
  await page.waitForFunction(() => performance.getEntriesByName("first-contentful-paint").length > 0);
  const [bytes, painted] = await page.evaluate(() => [
    [...performance.getEntriesByType("resource").filter((r) => /varvel\.(css|js)/.test(r.name)), ...performance.getEntriesByType("navigation")].reduce((n, r) => n + r.transferSize, 0),
    performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? 0,
  ]);
  console.error(`      ${bytes} bytes, first words after ${painted.toFixed(0)} ms (processor slowed 4 times, 1.6 Mbit/s, 60 ms)`);
  must(bytes < 60_000, `the first page takes ${bytes} bytes`);
});

await story("pages look as they did", async () => {
  if (!clock.length) { console.error("      skipped: faketime is missing, the dates would differ"); return; }
  mkdirSync(golden, { recursive: true });
  const off = [];
  for (const [size, viewport] of SIZES)
    for (const colorScheme of ["light", "dark"]) {
      const page = await (await chrome.newContext({ viewport, colorScheme, reducedMotion: "reduce", ignoreHTTPSErrors: true })).newPage();
      for (const [name, path] of PICTURES) {
        await page.goto(path);
        await page.evaluate(() => document.fonts.ready);
        if (path.endsWith("/note")) await page.locator("#home", { hasText: /./ }).waitFor();
        // The fingerprint is another on each run.
        await page.evaluate(() => document.querySelectorAll(".hash").forEach((e) => { if (/^[0-9A-F: ]{60,}$/.test(e.textContent)) e.textContent = "AB:".repeat(31) + "AB"; }));
        const file = `${golden}${name}-${size}-${colorScheme}.png`;
        const shot = await page.screenshot({ animations: "disabled", caret: "hide" });
        if (process.env.UPDATE || !existsSync(file)) {
          if (!process.env.UPDATE) console.error(`      ${name}-${size}-${colorScheme} was never taken: nothing to compare with; it is written now, look at it`);
          writeFileSync(file, shot);
          continue;
        }
        const [was, now] = [PNG.sync.read(readFileSync(file)), PNG.sync.read(shot)];
        const differ = was.width === now.width && was.height === now.height ? pixelmatch(was.data, now.data, null, was.width, was.height, { threshold: 0.2 }) / (was.width * was.height) : 1;
        if (differ > TOLERANCE) {
          writeFileSync(file.replace(".png", ".now.png"), shot);
          off.push(`${name} at ${size}, ${colorScheme}: ${(differ * 100).toFixed(2)} % of it`);
        }
      }
    }
  must(off.length === 0, "other than the golden pictures (see *.now.png; UPDATE=1 takes new ones):\n  " + off.join("\n  "));
});

await chrome.close();
await Promise.all([full.stop(), bare.stop()]);
full.clear();
bare.clear();
