import { type CallHandler, createParamDecorator, type ExecutionContext, type NestInterceptor } from "@nestjs/common";
import type { FastifyRequest } from "fastify";
import { Observable, tap } from "rxjs";
import type { Caller } from "../../access/caller.js";
import { DefectError } from "../../errors/errors.js";
import { actingAs } from "../../ledger/acting.js";

/** Gives a handler the caller: `@ByCaller() caller: Caller`. Only routes that ask for one have one. */
export const ByCaller = createParamDecorator((_: unknown, context: ExecutionContext): Caller => {
	const { caller } = context.switchToHttp().getRequest<FastifyRequest>();
	if (!caller) throw new DefectError("a route that lets anybody in asks who it is");
	return caller;
});

/**
 * Lets what a route writes into the ledger bear its caller's name, and answers nothing of a route that says it lists and was never
 * kept to the caller's reach.
 */
export class InCallersName implements NestInterceptor {
	intercept(context: ExecutionContext, next: CallHandler): Observable<unknown> {
		const { caller, routeOptions } = context.switchToHttp().getRequest<FastifyRequest>();
		if (!caller) return next.handle();
		const answered = new Observable<unknown>((subscriber) => actingAs(caller.actor, () => next.handle().subscribe(subscriber)));
		if (!routeOptions.config.touches?.includes("list")) return answered;
		return answered.pipe(
			tap(() => {
				if (!caller.reach.wasAsked)
					throw new DefectError(`the list of ${routeOptions.url ?? "a route"} isn't kept to the caller's part`);
			}),
		);
	}
}
