import type { Protocol } from "../protocol/protocol.js";
import { fieldCard } from "./field-card.js";
import { twoDose } from "./two-dose.js";

/** The protocols that come with the program; the first is the default. */
export const shippedProtocols: readonly [Protocol, ...Protocol[]] = [twoDose, fieldCard];
