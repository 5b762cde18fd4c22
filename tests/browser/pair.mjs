// A phone is let in by a code that works once, over TLS by the keeper's own authority, and shut out again.
import { browser, must, serve, story } from "./lib.mjs";
import { X509Certificate } from "node:crypto";
import https from "node:https";

const bin = process.env.VARVEL_BIN;
const command = bin.endsWith("preview") ? [bin, "--empty", "--lan"] : [bin, "serve", "--port", "0", "--lan", "--phone-port", "0", "--trust-port", "0", "--name", "127.0.0.1", "--name", "localhost"];
const house = await serve({ command, env: { PORT: "0" } });
const porch = house.trust || house.porch;
const chrome = await browser();
const phone = () => chrome.newContext({ viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, ignoreHTTPSErrors: true });

await story("the authority vouches for this machine, for no more than 398 days, and for private names only", async () => {
  const der = Buffer.from(await (await fetch(porch + "/trust/varvel.crt")).arrayBuffer());
  const ca = new X509Certificate(der);
  must(ca.ca, "it is an authority");
  const [status, leaf] = await new Promise((ok, no) => {
    const ask = https.get(house.phones + "/pair", { ca: ca.toString() }, (answer) => { ok([answer.statusCode, answer.socket.getPeerX509Certificate()]); answer.resume(); });
    ask.on("error", no);
  });
  must(status === 200, "a client that trusts the authority is answered: " + status);
  const days = (new Date(leaf.validTo) - new Date(leaf.validFrom)) / 86400e3;
  must(days <= 398, `the certificate lasts ${days} days`);
  must(leaf.subjectAltName.includes("IP Address:127.0.0.1"), leaf.subjectAltName);
  await new Promise((ok, no) => https.get(house.phones + "/pair", () => no(new Error("it was trusted without the authority"))).on("error", ok));
});

await story("the porch shows how to trust and nothing else", async () => {
  for (const path of ["/", "/confirm", "/birds.json", "/original/x"]) {
    const answer = await fetch(porch + path, { redirect: "manual" });
    must(answer.status === 303 && answer.headers.get("location") === "/trust", `${path}: ${answer.status}`);
  }
  must((await (await fetch(porch + "/trust")).text()).includes("fingerprint"), "the page is there");
});

await story("a stranger sees nothing; a code works once; the phone works; shut out, it is a stranger", async () => {
  const stranger = await (await phone()).newPage();
  for (const path of ["/", "/confirm", "/note", "/birds.json", "/waiting.json", "/evidence", "/settings", "/sw.js", "/intake/" + "a".repeat(64)]) {
    const status = (await stranger.request.get(house.phones + path)).status();
    must(status === 401, `${path} answers a stranger with ${status}`);
  }
  const desk = await chrome.newPage();
  await desk.goto(house.desk + "/settings");
  await desk.getByRole("button", { name: "Let a phone in" }).click();
  const address = await desk.locator("details .hash").textContent();
  must(address.startsWith(house.phones + "/pair?code="), address);
  must(await desk.locator(".code svg").count() === 2, "both pictures are drawn");

  const context = await phone();
  const page = await context.newPage();
  await page.goto(address);
  await page.fill("#name", "field phone");
  await page.fill("#keeper", "Finn");
  await page.click("button.main");
  await page.waitForURL(house.phones + "/note");
  const cookie = (await context.cookies()).find((c) => c.name === "__Host-varvel");
  must(cookie && cookie.httpOnly && cookie.secure && cookie.sameSite === "Strict" && cookie.path === "/", "the cookie is closed: " + JSON.stringify({ ...cookie, value: "…" }));
  await page.goto(house.phones + "/confirm");
  must(await page.locator("h1").textContent() === "Confirm", "the phone is in");
  must((await page.request.post(house.phones + "/settings/phone", { headers: { origin: house.phones } })).status() === 403, "phones let no phones in");

  const again = await (await phone()).newPage();
  await again.goto(address);
  await again.fill("#name", "thief");
  await again.fill("#keeper", "x");
  await again.click("button.main");
  must((await again.content()).includes("used, too old or wrong"), "the code works once");

  await desk.goto(house.desk + "/settings");
  must(await desk.getByText("field phone").isVisible(), "the phone is listed");
  await desk.getByRole("button", { name: "Shut out field phone" }).click();
  must((await page.request.get(house.phones + "/confirm")).status() === 401, "shut out");
});

await story("after ten wrong codes none is looked at", async () => {
  const page = await (await phone()).newPage();
  let last = 0;
  for (let i = 0; i < 12; i++) {
    last = (await page.request.post(house.phones + "/pair", { headers: { origin: house.phones }, form: { code: "guess" + i, name: "x", keeper: "y" } })).status();
  }
  must(last === 429, "the last answer was " + last);
});

await chrome.close();
await house.stop();
house.clear();
