// Begins what `pack.cjs` has packed: `node packed.cjs <packed> ...` calls its `main`. The code that the first one has compiled is kept beside
// it for those after it.
const { existsSync, readFileSync, renameSync, writeFileSync } = require("node:fs");
const { createRequire } = require("node:module");
const { dirname, join } = require("node:path");
const vm = require("node:vm");

const [packed] = process.argv.splice(2, 1);
const kept = `${packed}.compiled`;
const script = new vm.Script(readFileSync(packed, "latin1"), {
	filename: packed,
	importModuleDynamically: vm.constants.USE_MAIN_CONTEXT_DEFAULT_LOADER,
	...(existsSync(kept) && { cachedData: readFileSync(kept) }),
});
const { files, ways, starts, entry } = script.runInThisContext();
const modules = new Map();

/** The modules know one another as Node would have given them to each other. */
function moduleNamed(name, from) {
	const known = modules.get(name);
	if (known) return known.exports;
	const make = files[name];
	if (!make) return createRequire(from)(name);
	const module = { exports: {}, id: name, filename: name, loaded: false };
	modules.set(name, module);
	const folder = dirname(name);
	const theirs = (request) => {
		const found = ways[folder]?.[request] ?? oursNamed(request, folder);
		return found === undefined ? createRequire(name)(request) : moduleNamed(found, name);
	};
	theirs.resolve = (request) => ways[folder]?.[request] ?? createRequire(name).resolve(request);
	theirs.cache = {};
	module.require = theirs;
	make.call(module.exports, module.exports, theirs, module, name, folder);
	module.loaded = true;
	return module.exports;
}

/** What was packed because a module loads it later by itself: nobody had asked for it from there. */
function oursNamed(request, folder) {
	const name = request.startsWith(".") ? join(folder, request).replace(/\.js$/, ".ts") : request;
	return name in files ? name : undefined;
}

/** A trace names the modules themselves. */
Error.prepareStackTrace = (error, frames) => {
	const lines = frames.map((frame) => {
		if (frame.getFileName() !== packed) return String(frame);
		const line = frame.getLineNumber();
		const [from, name] = starts.findLast(([first]) => first <= line);
		return String(frame).replace(`${packed}:${line}`, `${name}:${line - from}`);
	});
	return [String(error), ...lines.map((line) => `    at ${line}`)].join("\n");
};

/** Several may do so at once: each makes a file of its own, and the last to be ready stays. */
function keepCompiled() {
	if (existsSync(kept)) return;
	writeFileSync(`${kept}.${process.pid}`, script.createCachedData());
	renameSync(`${kept}.${process.pid}`, kept);
}

void moduleNamed(entry, __filename).main(keepCompiled);
