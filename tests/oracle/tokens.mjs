// Reads tests/data/publish/swatches.tokens.json with @terrazzo/parser, a parser and validator of the Design Tokens Community Group's format, and
// writes what it read beside it. Its argument is the folder that has node_modules.
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const folder = "tests/data/publish/";
const modules = createRequire(`${process.argv[2]}/`);
const { Logger, defineConfig, parse } = await import(
  pathToFileURL(modules.resolve("@terrazzo/parser"))
);
const path = `${folder}swatches.tokens.json`;
const src = readFileSync(path, "utf8");
const logger = new Logger({ level: "warn" });
const config = defineConfig({}, { cwd: pathToFileURL(`${process.cwd()}/`), logger });
const parsedOf = (src) => parse([{ filename: pathToFileURL(path), src }], { config, logger });
const problems = [];
let parsed = { tokens: {} };
try {
  parsed = await parsedOf(src);
} catch (error) {
  problems.push(String(error));
}
// It must be able to say no.
for (const [from, to] of [['"lab"', '"labb"'], ["52.312", '"52"'], ["#c65d06", "c65d06"]]) {
  const refused = await parsedOf(src.replace(from, to)).then(() => false, () => true);
  if (!refused) problems.push(`it takes ${to} for ${from}`);
}
const tokens = Object.fromEntries(
  Object.entries(parsed.tokens).map(([id, it]) => [
    id,
    { type: it.$type, description: it.$description, value: it.$value },
  ]),
);
const read = {
  reader: "@terrazzo/parser 2.7.1",
  sha256: createHash("sha256").update(src).digest("hex"),
  problems,
  tokens,
};
writeFileSync(`${folder}tokens-read.json`, `${JSON.stringify(read, null, 1)}\n`);
