// Drives Chromium over /docs and prints, as JSON, what a person would see there.
//     node docs_page.cjs ADDRESS CHROMIUM SCREENSHOT
// Playwright is found by NODE_PATH and downloads nothing; no host but this machine resolves.
const { chromium } = require("playwright-core");

const [address, executablePath, screenshot] = process.argv.slice(2);
const FLAGS = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
  "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
];
const PATIENCE = 90_000; // of a machine that does much else

async function look(page) {
  const seen = { asked: [], failed: [], complaints: [] };
  page.setDefaultTimeout(PATIENCE);
  page.on("request", (request) => seen.asked.push(request.url()));
  page.on("requestfailed", (request) => seen.failed.push(request.url()));
  page.on("pageerror", (error) => seen.complaints.push(error.message));
  page.on("console", (message) => {
    if (message.type() === "error") seen.complaints.push(message.text());
  });
  await page.goto(`${address}/docs#/operations/solveVehicle`);
  seen.heading = await page.locator("h1", { hasText: "vehicle" }).innerText();
  await page.locator("button", { hasText: /Reading\]/ }).first().click();
  seen.union = await page.getByRole("option").allInnerTexts();
  await page.getByRole("option", { name: /ToeScaleReading/ }).click();
  seen.chosen = await page.locator("button", { hasText: /Reading\]/ }).first().innerText();
  const [response] = await Promise.all([
    page.waitForResponse((answer) => answer.url().endsWith("/v1/solutions")),
    page.getByRole("button", { name: "Send API Request" }).click(),
  ]);
  seen.status = response.status();
  seen.solution = await response.json();
  seen.shown = await page.locator(".sl-panel", { hasText: "200 OK" }).innerText();
  await page.screenshot({ path: screenshot });
  return seen;
}

(async () => {
  const browser = await chromium.launch({ executablePath, headless: true, args: FLAGS });
  try {
    const page = await browser.newPage({ viewport: { width: 1400, height: 1400 } });
    console.log(JSON.stringify(await look(page)));
  } finally {
    await browser.close();
  }
})();
