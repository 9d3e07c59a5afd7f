// Loads TypeScript of ours from its source: what jest does for the files of tests, done for all that jest doesn't load.
const { createHash } = require("node:crypto");
const { mkdirSync, readFileSync, renameSync, writeFileSync } = require("node:fs");
const { Module } = require("node:module");
const { join } = require("node:path");
const { fileURLToPath } = require("node:url");
const { transformSync, version } = require("@swc/core");
const { TRANSFORM } = require("./transform.cjs");

const FOLDER = join(__dirname, "../../node_modules/.cache/jarwatch-source");
mkdirSync(FOLDER, { recursive: true });

/** Where the map of each file that was loaded lies, so that a stack names the lines of its source. */
const mapPaths = new Map();

/** A process that is killed while it writes leaves nothing half written where another looks. */
function keep(path, text) {
	const written = `${path}.${process.pid}-${performance.now()}`;
	writeFileSync(written, text);
	renameSync(written, path);
}

function compiled(filename) {
	const source = readFileSync(filename, "utf8");
	const key = createHash("sha256")
		.update(JSON.stringify([version, TRANSFORM, filename, source]))
		.digest("hex");
	const path = join(FOLDER, `${key}.js`);
	mapPaths.set(filename, `${path}.map`);
	try {
		return readFileSync(path, "utf8");
	} catch (error) {
		if (error.code !== "ENOENT") throw error;
	}
	const { code, map } = transformSync(source, { filename, ...TRANSFORM });
	keep(`${path}.map`, map);
	keep(path, code);
	return code;
}

const resolve = Module._resolveFilename;
Module._resolveFilename = (request, ...rest) => {
	if (request.startsWith("file:")) return resolve(fileURLToPath(request), ...rest);
	const isOurs = /^\.{1,2}\//.test(request) && !rest[0]?.filename?.includes("node_modules");
	return resolve(isOurs ? request.replace(/\.js$/, ".ts") : request, ...rest);
};
Module._extensions[".ts"] = (module, filename) => module._compile(compiled(filename), filename);

module.exports = { mapPaths };
