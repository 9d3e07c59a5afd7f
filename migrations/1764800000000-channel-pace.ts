import type { MigrationInterface, QueryRunner } from "typeorm";
import { table } from "./tables.js";

/** From when on a channel with a limit is free, for all processes that send through it. */
export class ChannelPace1764800000000 implements MigrationInterface {
	readonly name = "ChannelPace1764800000000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "channel_pace", { channel: "text key", free_from_ms: "real" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("channel_pace");
	}
}
