import { join } from "node:path";
import type { Logger } from "pino";
import { migrations } from "../migrations/index.js";
import { entities } from "./entities.js";
import type { Settings } from "./settings/settings.js";
import { type KeyFile, keyFileIn } from "./store/sealing/key-file.js";
import { Keyring } from "./store/sealing/keyring.js";
import { Store } from "./store/store.js";

/**
 * Opens the database that the settings name, under the keys that they name; without keys, under the one in the data folder, which is made
 * at the first start.
 * @param location of another database under the same keys
 * @throws InputError where the database or the keys can't be used
 */
export async function openedStore(
	settings: Settings,
	log: Pick<Logger, "info" | "warn">,
	location = settings.databaseUrl ?? join(settings.dataFolder, "jarwatch.sqlite"),
): Promise<Store> {
	const file = settings.dataKeys ? undefined : keyFileIn(settings.dataFolder);
	const keys = new Keyring(settings.dataKeys ?? [(file as KeyFile).key]);
	try {
		const store = await Store.open({ location, entities, migrations, keys, patienceMs: settings.databasePatienceMs });
		if (file?.isNew)
			log.warn(
				{ file: file.path },
				"a key was made under which names and numbers rest: back this file up apart from the database, for without it they can't be read",
			);
		if (store.newlySealed > 0) log.info({ values: store.newlySealed }, "names and numbers that lay open are sealed now");
		return store;
	} catch (error) {
		file?.takeBack();
		throw error;
	}
}
