/** The guidance that defines how household water treatment is monitored; numbers and wording of its indicators are from memory. */
export const TOOLKIT =
	"WHO/UNICEF 2012, A toolkit for monitoring and evaluating household water treatment and safe storage programmes (ISBN 978 92 4 150462 1)";
