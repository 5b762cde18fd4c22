// Takes pictures of every page for the eye: node shots.mjs ADDRESS FOLDER [PAGE…]
import { browser } from "./lib.mjs";
const [desk, folder, ...only] = process.argv.slice(2);
const chrome = await browser();
const pages = only.length ? only : ["/", "/confirm", "/note", "/book", "/birds", "/evidence", "/words", "/reports", "/settings", "/birds/new", "/more"];
for (const [size, viewport] of [["hand", { width: 360, height: 740 }], ["desk", { width: 1280, height: 800 }]])
  for (const colorScheme of ["light", "dark"]) {
    const page = await (await chrome.newContext({ viewport, colorScheme, reducedMotion: "reduce" })).newPage();
    for (const path of pages) {
      await page.goto(desk + path, { waitUntil: "load" });
      await page.waitForTimeout(150);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth > innerWidth);
      if (wide) console.error(`${path} at ${size} scrolls sideways`);
      await page.screenshot({ path: `${folder}/${size}-${colorScheme}${path.replaceAll(/[/?=]/g, "_")}.png`, fullPage: !!process.env.FULL });
    }
  }
await chrome.close();
