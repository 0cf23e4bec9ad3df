using Microsoft.Extensions.Logging;

namespace LaserWatch;

/// <summary>Every message the process can log: 1xx input, 2xx alarms, 3xx storage, 4xx broker, 5xx process, 6xx the agent's own health.</summary>
internal static partial class Log
{
    // The pipeline: 1xx input, 2xx alarms, 5xx process
    [LoggerMessage(100, LogLevel.Warning, "Not taken from {Topic}: {Reason}{Detail}{Unsaid}")]
    public static partial void MessageRejected(this ILogger logger, string topic, string reason, string detail, string unsaid);

    [LoggerMessage(101, LogLevel.Warning, "The sensor's clock at {Topic} is out of bounds; time of arrival is used instead")]
    public static partial void SensorClockSkewed(this ILogger logger, string topic);

    [LoggerMessage(102, LogLevel.Error, "A fault of the program in judging {Where}; samples are stored all the same, please report it")]
    public static partial void JudgingFailed(this ILogger logger, Exception fault, string where);

    [LoggerMessage(103, LogLevel.Warning, "Could not look up whether a message of {Topic} was stored before; it is taken as new")]
    public static partial void DeliveryUnknown(this ILogger logger, Exception fault, string topic);

    [LoggerMessage(200, LogLevel.Warning, "{Machine}: {Condition} {State} ({Priority}): {Message}{FirstCheck}")]
    public static partial void AlarmRaised(
        this ILogger logger, string machine, string condition, string state, string priority, string message, string firstCheck);

    [LoggerMessage(201, LogLevel.Information, "{Machine}: {Condition} {State} ({Priority}): {Message}")]
    public static partial void AlarmChanged(
        this ILogger logger, string machine, string condition, string state, string priority, string message);

    [LoggerMessage(500, LogLevel.Information, "Watching. Machines known: {Machines}; standing alarms: {Standing}; samples looked through that came after the states were saved: {Samples}")]
    public static partial void Watching(this ILogger logger, int machines, long samples, int standing);

    [LoggerMessage(501, LogLevel.Warning, "{Machine}: the saved state cannot be read by this version; learning anew from samples since {From}")]
    public static partial void StateUnreadable(this ILogger logger, string machine, string from);

    [LoggerMessage(503, LogLevel.Information, "Stopped; everything is stored and told")]
    public static partial void Stopped(this ILogger logger);

    [LoggerMessage(504, LogLevel.Error, "Stopped, but these did not end in time: {What}. What was not acknowledged comes again after the next start")]
    public static partial void StoppedUnfinished(this ILogger logger, string what);

    [LoggerMessage(505, LogLevel.Warning, "Upkeep of the store failed; it is tried again in a minute")]
    public static partial void UpkeepFailed(this ILogger logger, Exception fault);

    [LoggerMessage(506, LogLevel.Warning, "{Why} Until it can be, nothing is watched; trying on")]
    public static partial void WaitingForStore(this ILogger logger, string why);

    // 2xx alarms: delivery
    [LoggerMessage(250, LogLevel.Warning, "Alarms cannot be delivered to {Sink}: {Why}. They wait, {Waiting} so far; tried again")]
    public static partial void AlarmDeliveryFails(this ILogger logger, string sink, string why, int waiting);

    [LoggerMessage(251, LogLevel.Information, "Alarms are delivered to {Sink} again, after {Failures} failed attempts")]
    public static partial void AlarmDeliveryResumed(this ILogger logger, string sink, int failures);

    [LoggerMessage(252, LogLevel.Warning, "The alarm {Condition} of {Machine} ({State}) was given up by {Sink}: {Why}")]
    public static partial void AlarmGivenUp(this ILogger logger, string sink, string machine, string condition, string state, string why);

    [LoggerMessage(253, LogLevel.Warning, "{Count} alarm transitions were not delivered to {Sink} before the stop")]
    public static partial void AlarmsLeftUndelivered(this ILogger logger, string sink, int count);

    // 28x-29x alarms: floods
    [LoggerMessage(280, LogLevel.Warning, "A flood of alarms: {Annunciations} within {Minutes} minutes. Root causes first: {Roots}")]
    public static partial void FloodBegan(this ILogger logger, int annunciations, double minutes, string roots);

    [LoggerMessage(281, LogLevel.Information, "The flood of alarms is over, {Annunciations} in all: fewer than {Below} within {Minutes} minutes")]
    public static partial void FloodEnded(this ILogger logger, int annunciations, int below, double minutes);

    [LoggerMessage(282, LogLevel.Warning, "The alarms may have a cause in common: {What}")]
    public static partial void CommonCauseFound(this ILogger logger, string what);

    [LoggerMessage(283, LogLevel.Debug, "Whether alarms come in a flood could not be published: {Why}; tried again in a second")]
    public static partial void FloodNotPublished(this ILogger logger, string why);

    // 25x to 27x alarms: delivery beyond MQTT
    [LoggerMessage(254, LogLevel.Error, "{Outlet} refuses the message about {What} for good: {Why}. It is set aside, and what waits behind it goes on")]
    public static partial void MessageRefused(this ILogger logger, string outlet, string what, string why);

    [LoggerMessage(255, LogLevel.Error, "The message about {What} for {Outlet} was given up: it could not be delivered for {Days} days")]
    public static partial void MessageGivenUp(this ILogger logger, string what, string outlet, int days);

    [LoggerMessage(256, LogLevel.Error, "The outbox {Path} takes nothing; {Waiting} alarm transitions wait in memory, and are tried again. Free the disk, or see what holds the file")]
    public static partial void OutboxFailing(this ILogger logger, Exception fault, string path, int waiting);

    [LoggerMessage(257, LogLevel.Warning, "The outbox {Path} works again")]
    public static partial void OutboxWorksAgain(this ILogger logger, string path);

    [LoggerMessage(258, LogLevel.Error, "{Machine}: {Condition} {State} found no room before the outbox; {Dropped} so far. The next start finds it in the store")]
    public static partial void OutboxFull(this ILogger logger, string machine, string condition, string state, long dropped);

    [LoggerMessage(259, LogLevel.Warning, "{Count} messages for {Outlet}, which the configuration no longer names, are set aside")]
    public static partial void OutletGone(this ILogger logger, long count, string outlet);

    [LoggerMessage(260, LogLevel.Warning, "The store holds {Count} alarm transitions that the outbox had not taken before the last stop; they are told now")]
    public static partial void OutboxMissed(this ILogger logger, int count);

    [LoggerMessage(261, LogLevel.Warning, "{Waiting} messages wait for {Outlet}; they are sent after the next start")]
    public static partial void MessagesLeftWaiting(this ILogger logger, int waiting, string outlet);

    [LoggerMessage(263, LogLevel.Warning, "Delivered by {Outlet}, but not to all: {Why}")]
    public static partial void PartlyDelivered(this ILogger logger, string outlet, string why);

    [LoggerMessage(262, LogLevel.Error, "The delivery to {Outlet} failed in itself; it is tried again")]
    public static partial void OutletLineFailed(this ILogger logger, Exception fault, string outlet);

    // 3xx storage
    [LoggerMessage(300, LogLevel.Error, "The store takes nothing; {Items} items wait and are tried again. Free the disk, or see what holds the file")]
    public static partial void StoreFailing(this ILogger logger, Exception e, int items);

    [LoggerMessage(301, LogLevel.Warning, "The store works again after {Outage}; nothing that waited was lost")]
    public static partial void StoreWorksAgain(this ILogger logger, TimeSpan outage);

    [LoggerMessage(302, LogLevel.Error, "{Capacity} items wait for the store: from here samples are lost until it keeps up")]
    public static partial void StoreQueueFull(this ILogger logger, int capacity);

    [LoggerMessage(303, LogLevel.Warning, "The store keeps up again; {Items} items were refused meanwhile and are stored as a gap")]
    public static partial void StoreQueueDrained(this ILogger logger, long items);

    [LoggerMessage(304, LogLevel.Error, "The store refused a batch of {Items} items for good: a mistake in this program. It is stored as a gap")]
    public static partial void StoreRefusedBatch(this ILogger logger, Exception e, int items);

    [LoggerMessage(305, LogLevel.Error, "A message that is safe could not be acknowledged; the broker will send it again")]
    public static partial void AcknowledgementFailed(this ILogger logger, Exception e);

    [LoggerMessage(306, LogLevel.Error, "Stopped with {Items} items not stored. Those the broker still holds will come again")]
    public static partial void ItemsNotStored(this ILogger logger, int items);

    [LoggerMessage(307, LogLevel.Information, "Deleted by age: {Samples} samples (they live on in the roll-ups), {Events} alarm transitions and events")]
    public static partial void DeletedByAge(this ILogger logger, long samples, long events);

    [LoggerMessage(330, LogLevel.Warning, "No writing to InfluxDB {Where}: {Why}. What comes waits in order in {Spool}; trying on")]
    public static partial void InfluxFailing(this ILogger logger, string where, string why, string spool);

    [LoggerMessage(331, LogLevel.Warning, "InfluxDB {Where} takes writes again after {Outage}; what waited is being sent, and nothing was lost")]
    public static partial void InfluxWorksAgain(this ILogger logger, string where, TimeSpan outage);

    [LoggerMessage(332, LogLevel.Error, "InfluxDB {Where} refuses {Lines} lines for good, such as '{Line}': {Why}. They are set aside in {Spool}, stored as a gap, and tried again at the next start")]
    public static partial void InfluxRefused(this ILogger logger, string where, long lines, string line, string why, string spool);

    [LoggerMessage(333, LogLevel.Warning, "InfluxDB still refuses {Lines} lines that were set aside: {Why}. They stay in {Spool}")]
    public static partial void InfluxStillRefuses(this ILogger logger, int lines, string why, string spool);

    [LoggerMessage(334, LogLevel.Information, "InfluxDB took {Lines} lines that were set aside; their gap is closed")]
    public static partial void InfluxTookRefused(this ILogger logger, int lines);

    [LoggerMessage(335, LogLevel.Warning, "A point of {Measurement} at {Time} in InfluxDB {Mistake}; it is left out")]
    public static partial void InfluxRowUnreadable(this ILogger logger, string measurement, string time, string mistake);

    [LoggerMessage(336, LogLevel.Warning, "Stopped with {Lines} lines that InfluxDB has not taken; they wait in {Spool} for the next start")]
    public static partial void InfluxStoppedWithLines(this ILogger logger, long lines, string spool);

    // 4xx broker
    [LoggerMessage(400, LogLevel.Information, "Connected to the broker {Where} as {ClientId}, MQTT {Version}; session kept: {Kept}")]
    public static partial void BrokerConnected(this ILogger logger, string where, string clientId, string version, bool kept);

    [LoggerMessage(401, LogLevel.Warning, "No connection to the broker {Where}: {What}. {Mend}. Trying on")]
    public static partial void BrokerUnreachable(this ILogger logger, string where, string what, string mend);

    [LoggerMessage(402, LogLevel.Warning, "The connection to the broker {Where} broke: {Why}. Connecting again")]
    public static partial void BrokerLost(this ILogger logger, string where, string why);

    [LoggerMessage(403, LogLevel.Warning, "The broker {Where} did not keep our session: what was sent while we were away at QoS 1 is lost. Is its persistence on?")]
    public static partial void SessionLost(this ILogger logger, string where);

    [LoggerMessage(404, LogLevel.Error, "The broker refuses the subscription {Filter}: {Why}. Check its access list")]
    public static partial void SubscriptionRefused(this ILogger logger, string filter, string why);

    [LoggerMessage(405, LogLevel.Error, "A message on {Topic} could not be handled and is left out")]
    public static partial void MessageHandlerFailed(this ILogger logger, string topic, Exception fault);

    [LoggerMessage(406, LogLevel.Warning, "Another client has connected to {Where} as {ClientId} and threw us out: give one of them another broker.clientId")]
    public static partial void SessionTakenOver(this ILogger logger, string where, string clientId);

    [LoggerMessage(407, LogLevel.Warning, "The inbox is full: QoS 0 messages are being dropped")]
    public static partial void InboxFull(this ILogger logger);

    [LoggerMessage(408, LogLevel.Information, "The inbox has room again; {Dropped} QoS 0 messages were dropped since the start")]
    public static partial void InboxHasRoom(this ILogger logger, long dropped);

    [LoggerMessage(409, LogLevel.Debug, "An acknowledgement came too late for its connection: {Why}")]
    public static partial void AcknowledgementLost(this ILogger logger, string why);

    [LoggerMessage(410, LogLevel.Debug, "The broker did not hear our good-bye: {Why}")]
    public static partial void GoodByeFailed(this ILogger logger, string why);

    [LoggerMessage(411, LogLevel.Debug, "The presence connection of {Machine} is down: {Why}")]
    public static partial void PresenceDown(this ILogger logger, string machine, string why);

    [LoggerMessage(412, LogLevel.Warning, "More than {Most} machines: the broker cannot say of {Machine} that it is offline, should the agent die; {AgentTopic} says it of the agent")]
    public static partial void PresenceFull(this ILogger logger, int most, string machine, string agentTopic);

    [LoggerMessage(413, LogLevel.Warning, "The broker {Where} does not speak MQTT 5; going on with 3.1.1")]
    public static partial void FallingBackTo311(this ILogger logger, string where);

    [LoggerMessage(414, LogLevel.Warning, "The status of {Machine} could not be published: {Why}")]
    public static partial void StatusNotPublished(this ILogger logger, string machine, string why);

    [LoggerMessage(415, LogLevel.Warning, "The broker refuses the extra connection that would say when {Machine} is offline: {Why}. Allow client ids that begin with {ClientId}-")]
    public static partial void PresenceRefused(this ILogger logger, string machine, string why, string clientId);

    [LoggerMessage(416, LogLevel.Warning, "The broker {Where} closed {Count} connections in a row soon after they came about. Does another client use the name {ClientId}? Then give one of them another broker.clientId")]
    public static partial void BrokerHangsUpAtOnce(this ILogger logger, string where, int count, string clientId);

    [LoggerMessage(420, LogLevel.Information, "The embedded broker listens on {Address}:{Port}")]
    public static partial void EmbeddedBrokerListens(this ILogger logger, string address, int port);

    [LoggerMessage(421, LogLevel.Warning, "The embedded broker refused {Client} at {EndPoint}: {Why}")]
    public static partial void SensorRefused(this ILogger logger, string client, string endPoint, string why);

    [LoggerMessage(422, LogLevel.Warning, "{Client} tried to publish to {Topic}, which only the agent may; refused")]
    public static partial void ForeignPublishRefused(this ILogger logger, string client, string topic);

    [LoggerMessage(423, LogLevel.Error, "The retained messages in {File} cannot be read ({Why}); put aside as {Aside}, starting without them")]
    public static partial void RetainedUnreadable(this ILogger logger, string file, string why, string aside);

    [LoggerMessage(424, LogLevel.Error, "The retained messages cannot be saved to {File}: {Why}. Check its folder")]
    public static partial void RetainedNotSaved(this ILogger logger, string file, string why);

    // 4xx evidence: proof of integrity
    [LoggerMessage(450, LogLevel.Information, "Sealed: {Days} day(s) for the first time, {Revised} again since more of them had come")]
    public static partial void DaysSealed(this ILogger logger, int days, int revised);

    [LoggerMessage(451, LogLevel.Warning, "{Machine}, {Day}: {Words}. The day stays as it was sealed, and verify will say so. Was the store restored from an older backup, or changed by hand?")]
    public static partial void SealedDayAltered(this ILogger logger, string machine, DateOnly day, string words);

    [LoggerMessage(452, LogLevel.Warning, "The last {Bytes} bytes of {File} are no whole line: a crash while sealing. They are cut off and the days sealed again")]
    public static partial void TornLogLine(this ILogger logger, string file, long bytes);

    [LoggerMessage(453, LogLevel.Information, "A signing key was made: {File}, fingerprint {Fingerprint}. Write the fingerprint down where a reader of your reports can have it from you, and keep a copy of the file in a safe place")]
    public static partial void SigningKeyMade(this ILogger logger, string file, string fingerprint);

    [LoggerMessage(454, LogLevel.Warning, "Other users may read the signing key {File} (mode {Mode}), and so sign in its name: chmod 600 {File}")]
    public static partial void SigningKeyOpen(this ILogger logger, string file, string? mode);

    [LoggerMessage(455, LogLevel.Warning, "Days could not be sealed: {Why} It is tried again every hour")]
    public static partial void SealingFailed(this ILogger logger, Exception? fault, string why);

    [LoggerMessage(456, LogLevel.Information, "Days are sealed again")]
    public static partial void SealingWorksAgain(this ILogger logger);

    [LoggerMessage(457, LogLevel.Warning, "No time stamp from {Url}: {Why}. Days are sealed all the same; it is asked again every hour")]
    public static partial void TimestampFailed(this ILogger logger, string url, string why);

    [LoggerMessage(458, LogLevel.Information, "The time-stamping authority {Url} answers again")]
    public static partial void TimestampWorksAgain(this ILogger logger, string url);

    [LoggerMessage(750, LogLevel.Warning, "The supervisor cannot be given a sign of life; it may start the agent anew")]
    public static partial void NoSignOfLife(this ILogger logger, Exception fault);

    // 6xx the agent's own health
    [LoggerMessage(600, LogLevel.Information, "Health and metrics at {Address}/agent/judges, /agent/works and /metrics")]
    public static partial void HealthListens(this ILogger logger, string address);

    [LoggerMessage(601, LogLevel.Warning, "No health page at {Address}:{Port}: {Why}. Give health.port another number, or 0 for any free one; all else goes on without it")]
    public static partial void HealthNotListening(this ILogger logger, string address, int port, string why);

    [LoggerMessage(602, LogLevel.Error, "{Part} has ended on a fault of the program, please report it; machines are watched all the same")]
    public static partial void HealthPartFailed(this ILogger logger, Exception fault, string part);

    [LoggerMessage(603, LogLevel.Warning, "No heartbeat on {Topic}: {Why}. Tried again every {Seconds} s")]
    public static partial void HeartbeatFails(this ILogger logger, string topic, string why, double seconds);

    [LoggerMessage(604, LogLevel.Information, "Heartbeats on {Topic} again, after {Missed} that were missed")]
    public static partial void HeartbeatResumed(this ILogger logger, string topic, long missed);

    [LoggerMessage(605, LogLevel.Warning, "The sign of life to {Host} fails: {Why}. Tried again every {Seconds} s")]
    public static partial void SignOfLifeFails(this ILogger logger, string host, string why, double seconds);

    [LoggerMessage(606, LogLevel.Information, "The sign of life to {Host} goes through again, after {Failures} failures")]
    public static partial void SignOfLifeResumed(this ILogger logger, string host, long failures);

    [LoggerMessage(607, LogLevel.Warning, "Not all of the agent works, so no sign of life goes out, for somebody to notice: {Why}")]
    public static partial void SignsOfLifeHeld(this ILogger logger, string why);

    [LoggerMessage(608, LogLevel.Information, "All of the agent works again; signs of life go out")]
    public static partial void SignsOfLifeGoOn(this ILogger logger);

    [LoggerMessage(609, LogLevel.Warning, "Metrics do not reach {Endpoint}: {Why}. Tried again at every interval")]
    public static partial void OtlpFails(this ILogger logger, string endpoint, string why);

    [LoggerMessage(610, LogLevel.Information, "Metrics reach {Endpoint} again")]
    public static partial void OtlpResumed(this ILogger logger, string endpoint);

    [LoggerMessage(620, LogLevel.Warning, "This computer's clock was {What}. Machines are judged on without a break; times from {From} to {To} are stored as doubtful")]
    public static partial void ClockJumped(this ILogger logger, string what, string from, string to);

    [LoggerMessage(621, LogLevel.Error, "The memory of {Machine} could not follow the clock's step of {By}; samples may be judged late until the clock has caught up. Please report it")]
    public static partial void WatchNotShifted(this ILogger logger, string machine, string by);

    // 7xx security: who may do what
    [LoggerMessage(700, LogLevel.Warning, "{Client} may not publish to {Topic}; refused. Its rights stand in embeddedBroker.clients")]
    public static partial void PublishNotAllowed(this ILogger logger, string client, string topic);

    [LoggerMessage(701, LogLevel.Warning, "{Client} may not subscribe to {Filter}; refused: {Why}")]
    public static partial void SubscriptionNotAllowed(this ILogger logger, string client, string filter, string why);

    [LoggerMessage(702, LogLevel.Warning, "The embedded broker takes passwords in clear at {Address}, as allowPlain says: who can listen on that network can use them")]
    public static partial void PasswordsInClear(this ILogger logger, string address);

    [LoggerMessage(703, LogLevel.Information, "The embedded broker's certificate was read anew from {File}")]
    public static partial void ServerCertificateRenewed(this ILogger logger, string file);

    [LoggerMessage(704, LogLevel.Warning, "The embedded broker's new certificate cannot be used: {What}; {Mend}. The one from before goes on")]
    public static partial void ServerCertificateNotRenewed(this ILogger logger, string what, string mend);

    [LoggerMessage(705, LogLevel.Error, "The embedded broker cannot take more connections: {Why}. Those that are open go on; trying on")]
    public static partial void ConnectionsNotTaken(this ILogger logger, string why);

    [LoggerMessage(706, LogLevel.Warning, "The embedded broker closed a connection from {Address}: {Why}")]
    public static partial void ConnectionRefused(this ILogger logger, string address, string why);

    [LoggerMessage(707, LogLevel.Error, "A connection from {Address} ended by a fault of the program; please report it")]
    public static partial void ConnectionFailed(this ILogger logger, Exception fault, string address);

    [LoggerMessage(709, LogLevel.Warning, "Sensors want more than {Most} topics, or payloads of more than {Kilobytes} KiB, kept by the embedded broker; what is beyond is taken, and not kept")]
    public static partial void RetainedFull(this ILogger logger, int most, int kilobytes);

    // 83x annotations
    [LoggerMessage(830, LogLevel.Information, "{Machine}: annotations of its past have changed; learning anew from all stored samples, without the spans that are left out")]
    public static partial void LearningAnewForAnnotations(this ILogger logger, string machine);

    [LoggerMessage(831, LogLevel.Warning, "{Machine}: annotations of its past have changed, but samples of {Began}, when learning began, are no longer stored; what was learned stays as it is")]
    public static partial void AnnotationsTooOld(this ILogger logger, string machine, string began);
}
