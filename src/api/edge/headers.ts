/**
 * Header fields of every answer; a page sets its own content security policy over this one, which allows nothing.
 * Source: OWASP ASVS 5.0.0 (2025), requirements 3.4.1, 3.4.3 to 3.4.6 and 14.3.2
 */
export function defaultHeaders(requestId: string): Record<string, string> {
	return {
		"x-request-id": requestId,
		"x-content-type-options": "nosniff",
		"referrer-policy": "no-referrer",
		"content-security-policy":
			"default-src 'none'; object-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
		// Browsers heed it over TLS alone. Two years.
		"strict-transport-security": "max-age=63072000; includeSubDomains",
		"cross-origin-opener-policy": "same-origin",
		"cross-origin-resource-policy": "same-origin",
		"cache-control": "no-store",
	};
}
