// Every text that the scripts write. The bench serves this file as /static/texts.js, translated as
// its pages are; what stands in braces is a value.

export const filled = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);

export const texts = {
  live: {{ _("live")|tojson }},
  connecting: {{ _("connecting")|tojson }},
  offline: {{ _("OFFLINE")|tojson }},
  frozen: {{ _("FROZEN: not watching")|tojson }},
  lastValue: {{ _("last value {time}, {age} ago")|tojson }},
  standsOffline: {{ _("OFFLINE: the bench does not answer and nothing here will warn you. Every figure is old. Stay with the candle.")|tojson }},
  standsFrozen: {{ _("The bench answers, but it is frozen and watches nothing: every figure is old. Stay with the candle and start the service again.")|tojson }},

  noAnswer: {{ _("the bench does not answer")|tojson }},
  answered: {{ _("the bench answered {status}")|tojson }},
  warnsNobody: {{ _("It warns nobody: do what is to be done, and call the others yourself.")|tojson }},
  countsAsBurning: {{ _("It counts the candle as burning.")|tojson }},
  watchesNot: {{ _("It does not watch this candle: stay with it.")|tojson }},
  entry: {{ _("entry")|tojson }},
  notRecorded: {{ _("Not recorded")|tojson }},
  noPicture: {{ _("the picture cannot be read, choose it again")|tojson }},
  keepIt: {{ _("Keep it as it is")|tojson }},
  asTapped: {{ _("As tapped at {time}: “now” is still then.")|tojson }},
  recorded: {{ _("Recorded at {time}: {what}.")|tojson }},
  tapped: {{ _("{what}, tapped at {time}")|tojson }},
  tryingAgain: {{ _("The bench does not answer; trying again. {count} not yet sent.")|tojson }},
  trying: {{ _("Trying again.")|tojson }},
  notKnown: {{ _("THE BENCH DOES NOT KNOW IT")|tojson }},
  notKnownYet: {{ _("THE BENCH DOES NOT KNOW IT YET")|tojson }},
  notYetSent: {{ _("Not yet sent")|tojson }},
  changeIt: {{ _("Change it")|tojson }},
  sendAgain: {{ _("Send it again")|tojson }},
  dropIt: {{ _("Drop it")|tojson }},

  decimalComma: {{ _("Decimal comma")|tojson }},
  decimalPoint: {{ _("Decimal point")|tojson }},

  zoomIn: {{ _("Zoom in")|tojson }},
  zoomOut: {{ _("Zoom out")|tojson }},
  earlier: {{ _("Earlier")|tojson }},
  later: {{ _("Later")|tojson }},
  all: {{ _("All")|tojson }},
  showAll: {{ _("Show all")|tojson }},
  chart: {{ _("Chart. Arrow keys move the cursor, with Shift the view; plus and minus zoom, 0 shows all.")|tojson }},
  coarse: {{ _("The bench does not answer: this is coarser than it could be.")|tojson }},
  noReading: {{ _("no reading")|tojson }},
  noReadingOf: {{ _("no {letters}")|tojson }},
  doubtful: {{ _("{value}, doubtful")|tojson }},
  fromTo: {{ _("{low} to {high}")|tojson }},
  afterLighting: {{ _("{hours} h after lighting")|tojson }},
  link: {{ _("Link to this view")|tojson }},
  noChart: {{ _("The chart cannot be shown: {reason}. The table below has its figures.")|tojson }},
};
