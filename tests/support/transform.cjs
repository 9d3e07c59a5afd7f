// How TypeScript of ours becomes what Node runs, whoever loads it.
const TRANSFORM = {
	jsc: {
		parser: { syntax: "typescript", decorators: true },
		transform: { legacyDecorator: true, decoratorMetadata: true },
		target: "es2022",
		keepClassNames: true,
	},
	module: { type: "commonjs" },
	sourceMaps: true,
};

module.exports = { TRANSFORM };
