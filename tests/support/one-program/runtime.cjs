// The program and its packages are loaded once a worker, the files of tests anew for each: to load everything for every file took longer
// than most files do. What the program keeps by module is the same for everybody, so no test finds there what another has left.
const { createRequire } = require("node:module");
const { dirname, resolve, sep } = require("node:path");
const { default: Runtime } = require("jest-runtime");
const { mapPaths } = require("../from-source.cjs");

require("reflect-metadata");

const TESTS = resolve(__dirname, "../..") + sep;

module.exports = class OneProgram extends Runtime {
	requireModuleOrMock(from, name) {
		const isOfTests = name.startsWith(".") && resolve(dirname(from), name).startsWith(TESTS);
		if (isOfTests || name === "@jest/globals" || !from.startsWith(TESTS)) return super.requireModuleOrMock(from, name);
		const loaded = createRequire(from)(name);
		this.getSourceMaps();
		return loaded;
	}

	/** jest reads stacks by the maps that are in its own table. */
	getSourceMaps() {
		const table = super.getSourceMaps();
		if (this.known !== mapPaths.size) for (const [file, map] of mapPaths) table.set(file, map);
		this.known = mapPaths.size;
		return table;
	}
};
