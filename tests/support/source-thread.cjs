// Runs a thread of ours from its source.
const { join } = require("node:path");

require("./from-source.cjs");
require(join(__dirname, "../../src/assignment/solver-thread.ts"));
