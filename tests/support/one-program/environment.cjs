// Tests run in the realm of Node itself, not in one of their own, so that what they and the program throw, compare and look for is of one kind.
const { ModernFakeTimers } = require("@jest/fake-timers");
const { ModuleMocker } = require("jest-mock");
const vm = require("node:vm");

// jest compiles into the context that the environment names, and Node has no name for the main one.
const MAIN = {};
const { compileFunction } = vm;
vm.compileFunction = (source, params, options) => {
	const { parsingContext, ...others } = options;
	return compileFunction(source, params, parsingContext === MAIN ? others : options);
};

module.exports = class OneRealm {
	constructor({ projectConfig }) {
		this.global = globalThis;
		this.exit = process.exit;
		this.moduleMocker = new ModuleMocker(globalThis);
		this.fakeTimers = null;
		this.fakeTimersModern = new ModernFakeTimers({ config: projectConfig, global: globalThis });
	}

	async setup() {}

	async teardown() {
		this.fakeTimersModern.dispose();
		process.exit = this.exit;
	}

	exportConditions() {
		return ["node", "node-addons"];
	}

	getVmContext() {
		return MAIN;
	}
};
