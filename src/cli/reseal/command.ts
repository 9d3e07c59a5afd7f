import type { AddCommand, Outlets } from "../program.js";

/** Seals anew, under the first key, whatever rests under an older one. */
export const addReseal: AddCommand = (program, outlets) => {
	program
		.command("reseal")
		.description(
			"After a change of keys: seal anew under the first key of JARWATCH_DATA_KEY what rests under those behind it, which can then be left out. The service may go on meanwhile, once every process of it has the new setting.",
		)
		.action(() => resealedNow(outlets));
};

async function resealedNow({ out }: Outlets): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { Store } = await import("../../store/store.js");
	const { resealedAll } = await import("../../store/sealing/resealed-all.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		const store = service.app.get(Store);
		const values = await resealedAll(store);
		out(`${values} values sealed anew; everything rests under the key ${store.keys.ids[0]} now.\n`);
	} finally {
		await service.stop();
	}
}
