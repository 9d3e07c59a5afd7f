// CommonJS mode: packages that are published as ES modules only are transformed like our own code,
// because neither of jest's own ways to load them works on Node 20.
const own = {
	parser: { syntax: "typescript", decorators: true },
	transform: { legacyDecorator: true, decoratorMetadata: true },
	target: "es2022",
	keepClassNames: true,
};
const esm = { parser: { syntax: "ecmascript" }, target: "es2022" };
const toCommonJs = (jsc) => ["@swc/jest", { jsc, module: { type: "commonjs" }, sourceMaps: "inline" }];

/** @type {import('jest').Config} */
module.exports = {
	rootDir: "..",
	testEnvironment: "<rootDir>/tests/support/one-program/environment.cjs",
	runtime: "<rootDir>/tests/support/one-program/runtime.cjs",
	roots: ["<rootDir>/tests"],
	testMatch: ["**/*.test.ts"],
	transform: { "^.+\\.ts$": toCommonJs(own), "^.+\\.m?js$": toCommonJs(esm) },
	transformIgnorePatterns: [
		"/node_modules/(?:.*/node_modules/)?(better-sqlite3|pg|typeorm|fastify|pino|ioredis|bullmq|zod|rxjs|@swc|libphonenumber-js|highs|playwright-core)/",
	],
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
