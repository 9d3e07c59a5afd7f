export interface Forecast {
	medianGPerL: number;
}
