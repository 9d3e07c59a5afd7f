// The driver of SQLite is given its class of errors once a process, and a worker runs many files, each with classes of its own: what it threw
// in a second file would be no Error there, and `toThrow` would say that nothing was thrown. So each file gives it its own.
require("better-sqlite3/build/Release/better_sqlite3.node").isInitialized = false;
