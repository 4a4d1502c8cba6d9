// Opens each page of a folder in Chromium, asks what run.sh says, and takes pictures.
import { readdirSync, readFileSync, existsSync } from "node:fs";
import { basename, join } from "node:path";
import { pathToFileURL } from "node:url";
import { createRequire } from "node:module";
import puppeteer from "puppeteer-core";

const [pages, out] = process.argv.slice(2);
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const chromium = process.env.CHROMIUM ?? ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(existsSync);
const browser = await puppeteer.launch({ executablePath: chromium, args: ["--no-sandbox", "--disable-gpu", "--font-render-hinting=none"] });
const wrong = [];
const PIECE = 3000;
const only = process.env.ONLY?.split(",");

for (const file of readdirSync(pages).filter((name) => name.endsWith(".html")).sort()) {
    const name = basename(file, ".html");
    if (only && !only.includes(name)) continue;
    const address = pathToFileURL(join(pages, file)).href;
    const page = await browser.newPage();
    const say = (text) => wrong.push(`${file}: ${text}`);
    // The page's own policy would keep the examiner out: what it forbids is asked before it is lifted.
    page.on("console", (message) => say(`console ${message.type()}: ${message.text()}`));
    page.on("pageerror", (error) => say(`error: ${error.message}`));
    page.on("request", (request) => {
        const url = request.url();
        if (url !== address && !url.startsWith("data:")) say(`asks for ${url}`);
    });
    page.on("dialog", async (dialog) => { say(`dialog: ${dialog.message()}`); await dialog.dismiss(); });
    for (const [view, width, height] of [["narrow", 390, 844], ["wide", 1280, 900]]) {
        await page.setViewport({ width, height, deviceScaleFactor: 1 });
        await page.goto(address, { waitUntil: "load" });
        const wide = await page.evaluate(() => document.documentElement.scrollWidth);
        if (wide > width) say(`${view}: ${wide} pixels wide in a window of ${width}`);
        // One picture holds no more than a part of a long page.
        const tall = await page.evaluate(() => document.documentElement.scrollHeight);
        for (let top = 0, part = 1; top < Math.min(tall, 5 * PIECE); top += PIECE, part += 1) {
            const clip = { x: 0, y: top, width, height: Math.min(PIECE, tall - top) };
            await page.screenshot({ path: join(out, `${name}-${view}-${part}.png`), clip, captureBeyondViewport: true });
        }
    }
    const facts = await page.evaluate(() => {
        const heads = [...document.querySelectorAll("h1,h2,h3,h4,h5,h6")].map((head) => Number(head.tagName[1]));
        const ids = [...document.querySelectorAll("[id]")].map((each) => each.id);
        return {
            scripts: document.scripts.length,
            heads,
            twice: ids.filter((id, at) => ids.indexOf(id) !== at),
            broken: [...document.querySelectorAll("a[href^='#']")].map((a) => a.getAttribute("href").slice(1)).filter((id) => !document.getElementById(id)),
            unnamed: [...document.querySelectorAll("svg:not([aria-hidden])")].filter((svg) => !svg.parentElement.closest("svg") && !(svg.querySelector("title") && svg.querySelector("desc"))).length,
        };
    });
    if (facts.scripts > 0) say(`${facts.scripts} scripts`);
    if (facts.heads.filter((level) => level === 1).length !== 1) say("not one first heading");
    facts.heads.forEach((level, at) => { if (at > 0 && level > facts.heads[at - 1] + 1) say(`heading ${at + 1} jumps to level ${level}`); });
    if (facts.twice.length > 0) say(`ids twice: ${facts.twice.slice(0, 5)}`);
    if (facts.broken.length > 0) say(`links to nowhere: ${facts.broken.slice(0, 5)}`);
    if (facts.unnamed > 0) say(`${facts.unnamed} pictures without title and description`);
    for (const format of ["Letter", "A4"]) {
        await page.pdf({ path: join(out, `${name}-${format}.pdf`), format, preferCSSPageSize: false, printBackground: false });
    }
    const asked = await browser.newPage();
    await asked.setBypassCSP(true);
    for (const width of [390, 1280]) {
        await asked.setViewport({ width, height: 900 });
        await asked.goto(address, { waitUntil: "load" });
        await asked.evaluate(axe);
        const found = await asked.evaluate(async () => (await axe.run(document, { resultTypes: ["violations"] })).violations.map((v) => `${v.id} (${v.impact}): ${v.nodes.length}, ${v.nodes[0].target} ${v.nodes[0].failureSummary}`));
        found.forEach((violation) => say(`axe at ${width}: ${violation}`));
    }
    await asked.close();
    await page.close();
    console.log(`${file} looked at`);
}
await browser.close();
wrong.forEach((line) => console.error(line));
console.log(`${wrong.length} things wrong`);
process.exit(wrong.length > 0 ? 1 : 0);
