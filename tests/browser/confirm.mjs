// From a note to a confirmed day, in a phone-sized browser, by touch and by keys, with and without script.
import { browser, complaints, enterBird, must, serve, story, until } from "./lib.mjs";

const house = await serve();
const chrome = await browser();
const phone = { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true };

async function write(page, words) {
  await page.goto(house.desk + "/note");
  await page.locator("details:has(#write) summary").click();
  await page.fill("#words", words);
  await page.click("#write button");
  await until("the note is safe at home", () => page.locator("#queue li[data-state=safe]").first().isVisible());
}
const waiting = async (page) => (await (await page.request.get(house.desk + "/waiting.json")).json());
async function read(page, count) {
  await until(`${count} entries wait`, async () => (await waiting(page)).waiting === count);
}

await story("a written note is kept, read, confirmed by touch, undone, and stands in the day book", async () => {
  const page = await (await chrome.newContext(phone)).newPage();
  const wrong = complaints(page);
  await enterBird(page, house.desk, "Sedge", { sex: "female", species: "Harris's hawk", floor: "860", target: "930" });
  await write(page, "Sedge 932 grams, two and a half chicks, flew well");
  await read(page, 3);
  await page.goto(house.desk + "/confirm");
  must(await page.locator("mark").count() >= 3, "the quoted words are marked");
  const quotes = await page.locator(".slip blockquote").allTextContents();
  must(quotes.some((q) => q.includes("932")), "the weight's words are quoted: " + quotes);
  await page.locator(".slip", { hasText: "932 g" }).getByRole("button", { name: /^Confirm / }).tap();
  await until("two are left", async () => await page.locator(".slip").count() === 2);
  await page.locator("[data-key=all]").tap();
  await until("nothing is left", async () => await page.locator(".slip").count() === 0);
  await page.goto(house.desk + "/book");
  must(await page.locator("table.book").getByText("932 g").isVisible(), "the weight stands in the day book");
  must(await page.locator("figure.chart svg:visible").count() === 1, "one chart is drawn, for this width");
  // Undo both: first what was confirmed together, then the weight.
  await page.goto(house.desk + "/confirm");
  await page.locator("[data-key=undo]").tap();
  await until("two wait again", async () => await page.locator(".slip").count() === 2);
  await page.locator("[data-key=undo]").tap();
  await until("three wait again", async () => await page.locator(".slip").count() === 3);
  await page.goto(house.desk + "/book");
  must(!(await page.content()).includes("932 g"), "what was undone counts nowhere");
  must(wrong.length === 0, "the page complained: " + wrong.join("; "));
});

await story("by keys alone: change a weight, confirm the rest, undo", async () => {
  const page = await (await chrome.newContext({ viewport: { width: 1280, height: 800 } })).newPage();
  await page.goto(house.desk + "/confirm");
  await until("slips", async () => await page.locator(".slip").count() === 3);
  for (let i = 0; i < 40 && !(await page.evaluate(() => document.activeElement.matches(".slip"))); i++) await page.keyboard.press("Tab");
  must(await page.evaluate(() => document.activeElement.matches(".slip")), "Tab reaches the first entry");
  await page.keyboard.press("e");
  await page.keyboard.press("Control+a");
  await page.keyboard.type("933");
  await page.keyboard.press("Enter");
  await until("two are left", async () => await page.locator(".slip").count() === 2);
  must(await page.evaluate(() => !!document.activeElement.closest(".slip")), "the focus stays among the entries");
  await page.keyboard.press("a");
  await until("nothing is left", async () => await page.locator(".slip").count() === 0);
  await page.goto(house.desk + "/book");
  must(await page.locator("table.book").getByText("933 g").isVisible(), "the corrected weight stands in the day book");
  must(await page.locator("abbr[title='corrected by hand']").count() === 1, "and is marked as corrected");
});

await story("without script: write, confirm and undo by plain forms", async () => {
  const page = await (await chrome.newContext({ ...phone, javaScriptEnabled: false })).newPage();
  await page.goto(house.desk + "/note");
  await page.fill("#w", "Sedge 930 grams");
  await page.click("form[action='/intake'] button");
  await page.waitForURL(/confirm\?taken=1/);
  await read(page, 1);
  await page.goto(house.desk + "/confirm");
  await page.locator("button[data-key=confirm]").click();
  must((await page.content()).includes("All is decided"), "it is confirmed");
  await page.locator("button[data-key=undo]").click();
  must(await page.locator(".slip").count() === 1, "and taken back");
  await page.locator("button[data-key=reject]").click();
});

await story("a field is corrected, what it was taken for is offered to be remembered, kept, and forgotten", async () => {
  const page = await (await chrome.newContext(phone)).newPage();
  await write(page, "Sedge two chicks");
  await read(page, 1);
  await page.goto(house.desk + "/confirm");
  const slip = page.locator(".slip");
  await slip.locator("summary").tap();
  await slip.getByLabel("Food", { exact: true }).fill("quail");
  await slip.getByRole("button", { name: "Confirm as changed" }).tap();
  const offer = page.locator(".call", { hasText: "Remember this?" });
  await offer.waitFor();
  must((await offer.textContent()).includes("take it to mean “quail”"), await offer.textContent());
  await offer.getByRole("button", { name: "Remember", exact: true }).tap();
  await offer.waitFor({ state: "detached" });
  await page.goto(house.desk + "/words");
  await page.locator("table.book td", { hasText: "quail" }).waitFor();
  await page.getByRole("button", { name: /^Forget/ }).tap();
  await page.getByText("No words learned yet").waitFor();
  await page.goto(house.desk + "/book");
  must(await page.locator("table.book").getByText("quail").first().isVisible(), "the corrected food stands in the day book");
});

await story("a report is printed as PDF, for one bird and for all; the vet's is for one", async () => {
  const page = await (await chrome.newContext()).newPage();
  const birds = (await (await page.request.get(house.desk + "/reports")).text()).match(/value="(b[0-9a-z]+)"/)[1];
  for (const path of [`day-book.pdf?bird=${birds}`, "day-book.pdf?bird=&from=2020-01-01", `vet.pdf?bird=${birds}&question=Too+keen%3F`, "inspector.pdf"]) {
    const answer = await page.request.get(`${house.desk}/reports/${path}`);
    const body = await answer.body();
    must(answer.status() === 200 && body.subarray(0, 5).toString() === "%PDF-", `${path}: ${answer.status()} ${body.subarray(0, 200)}`);
  }
  must((await page.request.get(house.desk + "/reports/vet.pdf")).status() === 422, "the vet's sheet wants a bird");
  await page.goto(house.desk + "/reports");
  await page.getByRole("button", { name: "Day book, to read" }).click();
  must(await page.locator("table.book").first().isVisible(), "the page to read is there");
});

await chrome.close();
await house.stop();
house.clear();
