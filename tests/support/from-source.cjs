// Loads TypeScript of ours from its source: what jest does for tests, done for a thread or process, which jest doesn't reach.
const { readFileSync } = require("node:fs");
const { Module } = require("node:module");
const { transformSync } = require("@swc/core");

const resolve = Module._resolveFilename;
Module._resolveFilename = (request, ...rest) => {
	const isOurs = /^\.{1,2}\//.test(request) && !rest[0]?.filename?.includes("node_modules");
	return resolve(isOurs ? request.replace(/\.js$/, ".ts") : request, ...rest);
};
Module._extensions[".ts"] = (module, filename) => {
	const source = readFileSync(filename, "utf8");
	const { code } = transformSync(source, {
		filename,
		jsc: {
			parser: { syntax: "typescript", decorators: true },
			transform: { legacyDecorator: true, decoratorMetadata: true },
			target: "es2022",
		},
		module: { type: "commonjs" },
	});
	module._compile(code, filename);
};
