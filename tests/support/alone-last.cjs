// Files named *.alone.test.ts hold a bar that is measured by the clock: they run after all others, one at a time, so that nothing else of the run uses the machine.
const { default: TestRunner } = require("jest-runner");

const isAlone = ({ path }) => path.endsWith(".alone.test.ts");

module.exports = class AloneLast extends TestRunner {
	async runTests(tests, watcher, options) {
		const beside = tests.filter((test) => !isAlone(test));
		if (beside.length > 0) await super.runTests(beside, watcher, options);
		await super.runTests(tests.filter(isAlone), watcher, { ...options, serial: true });
	}
};
