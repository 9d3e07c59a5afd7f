// Ends every run with one plain line that counts what was tried, whatever reporter printed before it.
module.exports = class ClosingLine {
	onRunComplete(_contexts, results) {
		const { numPassedTests: passed, numPendingTests: skipped, testResults } = results;
		// A file that can't even be loaded fails no single test: count it, or it would go unseen.
		const failed = results.numFailedTests + testResults.filter((r) => r.testExecError).length;
		const line = `${passed} passed, ${failed} failed${skipped ? `, ${skipped} skipped` : ""}`;
		process.once("exit", () => process.stdout.write(`${line}\n`));
	}
};
