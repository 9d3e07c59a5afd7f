import type { IncidentPlace } from "../incidents/incident.js";

export const OFFICE_INCIDENTS: IncidentPlace = { path: "/office/incidents", here: "/office/failures" };
