// Writes tests/data/colour-gamut-css.csv: colours outside a screen's gamut, mapped by a library that is not ours.
//
// node tests/oracle/gamut.mjs FOLDER, where FOLDER has colorjs.io in its node_modules.

import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { resolve } from "node:path";

const VERSION = "0.7.1";
const folder = resolve(process.argv[2], "node_modules/colorjs.io");
const { version } = JSON.parse(readFileSync(`${folder}/package.json`, "utf8"));
if (version !== VERSION) {
    throw new Error(`colorjs.io ${version}: the table is of ${VERSION}`);
}
const module = createRequire(`${folder}/`)(`${folder}/dist/color.cjs`);
const Color = module.default ?? module;

const corners = (space) => ["1 0 0", "0 1 0", "0 0 1", "1 1 0", "0 1 1", "1 0 1"].map((it) => `color(${space} ${it})`);
// What each colour is mapped to: what a screen of the day has, and the wider one.
const colours = {
    srgb: [
        ...corners("display-p3"),
        ...corners("rec2020"),
        // Hues around, more than any screen has.
        ...[...Array(18).keys()].map((i) => `oklch(0.65 0.4 ${20 * i})`),
        // Deep oranges and blues of paint, and what an overdriven lightness asks for.
        "lab(50 0 90)", "lab(60 55 95)", "lab(70 45 110)", "lab(40 40 70)", "lab(30 -10 -75)", "lab(20 50 -110)", "lab(55 -40 -60)",
        // Nearly white and nearly black; white and black, whatever the chroma; negative light. Not at a lightness of 1 itself: there
        // the method jumps to white, and the last digit of a conversion decides.
        "oklch(0.999 0.1 60)", "oklch(0.97 0.25 110)", "oklch(0.95 0.2 250)", "oklch(0.08 0.15 30)", "oklch(0.03 0.1 264)",
        "oklch(0.002 0.05 140)", "oklch(0.9999 0.1 180)", "oklch(1.0001 0.1 180)", "oklch(1.05 0.2 300)", "oklch(0 0.1 100)", "color(display-p3 2 0 1)",
        "color(display-p3 -1 0 0)", "lab(98 -60 90)", "lab(3 30 -40)",
        // Hardly outside: clipped at once.
        "color(srgb 1.01 0.5 0.2)", "color(srgb 0.3 -0.004 0.9)",
    ],
    p3: [
        ...corners("rec2020"),
        ...[...Array(9).keys()].map((i) => `oklch(0.65 0.4 ${40 * i + 10})`),
        "lab(50 0 90)", "lab(60 55 95)", "lab(20 50 -110)", "oklch(0.97 0.25 110)", "oklch(0.03 0.1 264)",
    ],
};

const number = (it) => Number(it.toPrecision(12)).toString();
const rows = [];
for (const [space, list] of Object.entries(colours)) {
    for (const text of list) {
        const mapped = new Color(text).toGamut({ space, method: "css" }).to(space).coords;
        // The colour itself as linear light, unclipped, so that what is compared is the mapping alone.
        const linear = new Color(text).to(`${space === "srgb" ? "srgb" : "p3"}-linear`).coords;
        rows.push([text, space, ...[...linear, ...mapped].map((it) => number(Math.abs(it) < 1e-12 ? 0 : it))].join(","));
    }
}
writeFileSync(
    "tests/data/colour-gamut-css.csv",
    [
        `# Colours as linear RGB of a space, unclipped, and mapped into it, encoded: colorjs.io ${VERSION}, toGamut with method "css",`,
        "# the binary search with local clipping of CSS Color 4. Written by tests/oracle/gamut.mjs.",
        "colour,space,linear red,linear green,linear blue,red,green,blue",
        ...rows,
        "",
    ].join("\n"),
);
