const { TRANSFORM } = require("../tests/support/transform.cjs");

/** @type {import('jest').Config} */
module.exports = {
	rootDir: "..",
	testEnvironment: "<rootDir>/tests/support/one-program/environment.cjs",
	runtime: "<rootDir>/tests/support/one-program/runtime.cjs",
	roots: ["<rootDir>/tests"],
	testMatch: ["**/*.test.ts"],
	// What isn't a file of tests is loaded by Node: see one-program.
	transform: { "^.+\\.ts$": ["@swc/jest", { ...TRANSFORM, sourceMaps: "inline" }] },
	moduleNameMapper: { "^(\\.{1,2}/.*)\\.js$": "$1" },
	globalSetup: "<rootDir>/tests/support/services.cjs",
	globalTeardown: "<rootDir>/tests/support/no-models.cjs",
	testTimeout: 30_000,
	runner: "<rootDir>/tests/support/alone-last.cjs",
	maxWorkers: 2,
	// A worker keeps something of every file it has run. Begun anew above this, none is slow or short of memory because of those before it.
	workerIdleMemoryLimit: "512MB",
	reporters: ["default", "<rootDir>/tests/support/closing-line.cjs"],
};
