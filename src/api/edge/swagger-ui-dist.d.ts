declare module "swagger-ui-dist/absolute-path.js" {
	/** @returns the folder of the page's files */
	export default function absolutePath(): string;
}
