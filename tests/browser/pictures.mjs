// Takes the README's pictures from the made-up record: node pictures.mjs (run by name: run.sh pictures).
import { browser, serve, story } from "./lib.mjs";
import { fileURLToPath } from "node:url";

const out = fileURLToPath(new URL("../../docs/pictures/", import.meta.url));
const clock = ["faketime", "2026-11-24 09:30:00"];
const house = await serve({ command: [...clock, process.env.VARVEL_PREVIEW, fileURLToPath(new URL("scale.png", import.meta.url))], env: { FAKETIME_DONT_FAKE_MONOTONIC: "1", PORT: "0" } });
const chrome = await browser();
await story("the pictures of the README", async () => {
  const desk = await chrome.newPage({ viewport: { width: 1100, height: 700 }, reducedMotion: "reduce" });
  await desk.goto(house.desk + "/birds");
  const bird = await desk.locator("section.bird h2 a").first().getAttribute("href");
  for (const [name, path] of [["today", "/"], ["confirm", "/confirm"], ["bird", bird]]) {
    await desk.goto(house.desk + path);
    await desk.screenshot({ path: `${out}${name}.png`, animations: "disabled" });
  }
  const hand = await chrome.newPage({ viewport: { width: 360, height: 740 }, reducedMotion: "reduce", colorScheme: "dark" });
  await hand.goto(house.desk + "/note");
  await hand.locator("#home", { hasText: /./ }).waitFor();
  await hand.screenshot({ path: `${out}phone.png`, animations: "disabled" });
});
await chrome.close();
await house.stop();
house.clear();
