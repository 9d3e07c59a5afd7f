// Packs a module of the tests and all that it loads, the program from its source among it, into one file: a process that is started a
// thousand times then loads in a fraction of the time. `node pack.cjs <module> <into>` makes it (what it
// loads later by itself follows, by the names that it uses), `packed.cjs` begins it.
const { existsSync, readFileSync, writeFileSync } = require("node:fs");
const { builtinModules, createRequire, Module } = require("node:module");
const { dirname } = require("node:path");
const { transformSync } = require("@swc/core");

/** The first two look for files of their own by where they are called from; the third is loaded by the ORM too, and must be the same. */
const AS_THEY_ARE = /node_modules\/(bindings|better-sqlite3|pg)\//;
const files = new Map();
const ways = new Map();

const resolve = Module._resolveFilename;
Module._resolveFilename = (request, parent, ...rest) => {
	const isOurs = /^\.{1,2}\//.test(request) && !parent?.filename?.includes("node_modules");
	const found = foundAt(isOurs ? request.replace(/\.js$/, ".ts") : request, parent, rest);
	// The same is found from everywhere in a folder, and Node asks once for each.
	if (parent?.filename) ways.set(dirname(parent.filename), { ...ways.get(dirname(parent.filename)), [request]: found });
	return found;
};

function foundAt(request, parent, rest) {
	try {
		return resolve(request, parent, ...rest);
	} catch (error) {
		// What is published as a module alone.
		if (error.code !== "ERR_PACKAGE_PATH_NOT_EXPORTED") throw error;
		return resolve(request, parent, rest[0], { ...rest[1], conditions: new Set(["import", "node", "default"]) });
	}
}

function asCommonJs(source, filename) {
	const isTyped = filename.endsWith(".ts");
	const parser = isTyped ? { syntax: "typescript", decorators: true } : { syntax: "ecmascript" };
	const transform = { legacyDecorator: true, decoratorMetadata: true };
	return transformSync(source, {
		filename,
		jsc: { parser, ...(isTyped && { transform }), target: "es2022", keepClassNames: true },
		module: { type: "commonjs" },
	}).code;
}

function isModule(filename) {
	if (/\.(ts|mjs)$/.test(filename)) return true;
	if (filename.endsWith(".cjs")) return false;
	for (let at = dirname(filename); at !== dirname(at); at = dirname(at)) {
		const described = `${at}/package.json`;
		if (existsSync(described)) return JSON.parse(readFileSync(described, "utf8")).type === "module";
	}
	return false;
}

function load(module, filename) {
	const source = readFileSync(filename, "utf8").replace(/^#!.*/, "");
	const code = isModule(filename) ? asCommonJs(source, filename) : source;
	if (!AS_THEY_ARE.test(filename)) files.set(filename, code);
	module._compile(code, filename);
}
for (const ending of [".js", ".mjs", ".cjs", ".ts"]) Module._extensions[ending] = load;
const json = Module._extensions[".json"];
Module._extensions[".json"] = (module, filename) => {
	files.set(filename, `module.exports = ${readFileSync(filename, "utf8")};`);
	json(module, filename);
};

const [entry, into, ...later] = process.argv.slice(2);
createRequire(__filename)(entry);
for (const request of later) createRequire(entry)(request);
const isBuiltin = (name) => name.startsWith("node:") || builtinModules.includes(name);
const known = Object.fromEntries(
	[...ways].map(([from, to]) => [from, Object.fromEntries(Object.entries(to).filter(([, name]) => !isBuiltin(name)))]),
);
/** Without comments and indents there is half as much to read. */
const bare = (code) =>
	transformSync(code, {
		jsc: { parser: { syntax: "ecmascript" }, target: "es2022", minify: { compress: false, mangle: false } },
		minify: true,
		isModule: "commonjs",
	}).code;
let text = "({ files: {\n";
let line = 2;
const starts = [];
for (const [name, code] of files) {
	starts.push([line, name]);
	const made = `${JSON.stringify(name)}: function (exports, require, module, __filename, __dirname) {\n${bare(code)}\n},\n`;
	text += made;
	line += made.split("\n").length - 1;
}
// Letters of other scripts would make a text of twice the size, which takes long to read.
const plain = (code) => code.replace(/[^\0-\x7f]/g, (unit) => `\\u${unit.charCodeAt(0).toString(16).padStart(4, "0")}`);
writeFileSync(
	into,
	plain(`${text}}, ways: ${JSON.stringify(known)}, starts: ${JSON.stringify(starts)}, entry: ${JSON.stringify(entry)} })`),
	"latin1",
);
