// The rooms of the house, from the ground up. A room may import the rooms before it, never those after it.
const rooms = [
	["errors", "time"],
	["science"],
	["charts"],
	["log"],
	["settings"],
	["queue"],
	["store"],
	["ledger"],
	["programme"],
	["assignment"],
	["water", "stock", "generators"],
	["messages"],
	["access"],
	["duties"],
	["personal"],
	["audit"],
	["demo"],
	["simulation"],
	["api", "pages"],
	["cli"],
];
const order = rooms.flatMap((floor, level) => floor.map((name) => ({ name, level })));

// The command line puts services together like the start of the program does; nobody else may know the composition.
const above = (name, level) => [
	...order.filter((room) => room.level > level).map((room) => `${room.name}/`),
	...(name === "cli" ? ["main", "cli\\.ts"] : ["main", "cli\\.ts", "app\\.module", "service", "loops"]),
];

/** @type {import('dependency-cruiser').IConfiguration} */
module.exports = {
	forbidden: [
		{ name: "no-circles", severity: "error", from: {}, to: { circular: true } },
		{
			name: "science-imports-nothing-of-ours",
			comment: "science is pure: no framework, no I/O, no clock",
			severity: "error",
			from: { path: "^src/science/" },
			to: {
				path: "^src/(?!science/)|node_modules/(@nestjs|typeorm|fastify|pino|bullmq|ioredis)|^(fs|net|http|process|child_process|worker_threads)$",
			},
		},
		...order.map(({ name, level }) => ({
			name: `${name}-looks-down-only`,
			severity: "error",
			from: { path: `^src/${name}/` },
			to: { path: `^src/(${above(name, level).join("|")})` },
		})),
		{ name: "no-orphans-of-the-build", severity: "error", from: { path: "^src" }, to: { path: "^tests" } },
	],
	options: {
		doNotFollow: { path: "node_modules" },
		tsConfig: { fileName: "tsconfig.json" },
		tsPreCompilationDeps: true,
		enhancedResolveOptions: { exportsFields: ["exports"], conditionNames: ["import", "require", "node", "default", "types"] },
	},
};
