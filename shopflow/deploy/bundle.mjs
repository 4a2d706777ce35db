// Bundles every static/src/*.entry.js and *.entry.css into static/built/ under the name before ".entry".
import { readdirSync, rmSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const statics = join(dirname(fileURLToPath(import.meta.url)), "..", "static");
const src = join(statics, "src");
const built = join(statics, "built");
const entries = readdirSync(src)
  .filter((name) => /\.entry\.(js|css)$/.test(name))
  .sort()
  .map((name) => ({ in: join(src, name), out: name.replace(/\.entry\.(js|css)$/, "") }));

if (entries.length === 0) throw new Error(`no *.entry.js or *.entry.css in ${src}`);

rmSync(built, { recursive: true, force: true });
await build({
  entryPoints: entries,
  outdir: built,
  bundle: true,
  minify: true,
  // Modules, so that a page that shows no part never loads three: import() becomes a file of its own.
  format: "esm",
  splitting: true,
  target: "es2022",
  assetNames: "[name]-[hash]",
  chunkNames: "part-[name]-[hash]",
  loader: { ".woff2": "file", ".woff": "file", ".svg": "file", ".png": "file" },
  legalComments: "linked",
  logLevel: "warning",
});
