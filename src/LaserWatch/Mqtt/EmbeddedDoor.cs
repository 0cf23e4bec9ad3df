using System.Collections.Concurrent;
using System.Net;
using Microsoft.Extensions.Logging;
using MQTTnet.Formatter;
using MQTTnet.Protocol;
using MQTTnet.Server;

namespace LaserWatch.Mqtt;

/// <summary>Who comes into the embedded broker, and what each may do there. Every refusal is counted, and said once.</summary>
internal sealed class EmbeddedDoor(ClientAccounts accounts, Topics topics, string ourClientId, TimeProvider time, ILogger logger)
{
    /// <summary>Sessions in all, also of clients that are away.</summary>
    public const int MostSessions = 5000;

    public const int MostSubscriptions = 200;

    /// <summary>Longer topics are nobody's.</summary>
    public const int LongestTopic = 512;

    private const int RefusalsRemembered = 256;
    private const int LongestSaid = 120;

    private readonly GuessBrake _brake = new(time);
    private readonly ConcurrentDictionary<string, Guest> _guests = new(StringComparer.Ordinal);
    private readonly ConcurrentDictionary<string, byte> _said = new(StringComparer.Ordinal);
    private long _refused;

    /// <summary>Messages and subscriptions that a client had no right to.</summary>
    public long Refused => Volatile.Read(ref _refused);

    /// <summary>Answers a CONNECT. Null where it is refused; the answer then says why.</summary>
    public ClientRights? Admit(ValidatingConnectionEventArgs args)
    {
        var id = args.ClientId;
        if (string.IsNullOrEmpty(id) && args.ProtocolVersion == MqttProtocolVersion.V500)
            args.AssignedClientIdentifier = id = EmbeddedBrokerLink.NewClientId();
        var address = (args.RemoteEndPoint as IPEndPoint)?.Address ?? IPAddress.None;
        if (string.IsNullOrEmpty(id))
            return Refuse(MqttConnectReasonCode.ClientIdentifierNotValid, "it wants its session kept and has no client id to keep it under; set one in the sensor");
        if (id == ourClientId)
            return Refuse(MqttConnectReasonCode.ClientIdentifierNotValid, "this client id is the agent's own");
        if (!accounts.IsOpen && !_brake.MayTry(address, args.UserName))
            return Refuse(MqttConnectReasonCode.ServerBusy, $"too many wrong passwords; one more try is granted every {GuessBrake.NameWait.TotalSeconds} s");

        ClientRights? rights;
        try
        {
            rights = accounts.LogIn(args.UserName, args.RawPassword ?? []);
        }
        catch (SecretMissingException fault)
        {
            return Refuse(MqttConnectReasonCode.ServerUnavailable, $"its password cannot be looked up: {fault.Message}");
        }

        if (rights is null)
            return Refuse(MqttConnectReasonCode.BadUserNameOrPassword, "wrong user or password");
        if (!accounts.IsOpen)
            _brake.WasRight(address, args.UserName);

        // Else who knows another's client id could throw him out, and take over what waits for him.
        if (!_guests.TryGetValue(id, out var guest))
        {
            if (_guests.Count >= MostSessions)
                return Refuse(MqttConnectReasonCode.QuotaExceeded, $"more than {MostSessions} sessions are kept");
            guest = _guests.GetOrAdd(id, new Guest(rights));
        }

        if (guest.Rights.Account != rights.Account)
            return Refuse(MqttConnectReasonCode.ClientIdentifierNotValid, $"its client id is in use by the user {guest.Rights.Account}; each client needs one of its own");
        if (args.CleanSession == true)
            guest.ForgetSubscriptions();
        return rights;

        ClientRights? Refuse(MqttConnectReasonCode code, string why)
        {
            args.ReasonCode = code;
            args.ReasonString = code == MqttConnectReasonCode.ServerUnavailable ? "the broker cannot check passwords now" : why;
            if (SaidFirst($"{id}@{address} {code}"))
                logger.SensorRefused(Shown(id ?? ""), address.ToString(), why);
            return null;
        }
    }

    /// <summary>The session of a client is gone, and its client id free.</summary>
    public void Forget(string clientId) => _guests.TryRemove(clientId, out _);

    /// <summary>Whose session it is, connected or not; null where there is none.</summary>
    public ClientRights? RightsOf(string clientId) => _guests.TryGetValue(clientId, out var guest) ? guest.Rights : null;

    public bool MayPublish(ClientRights? rights, string clientId, string topic)
    {
        if (rights is not null && topic.Length <= LongestTopic && rights.MayPublish(topic))
            return true;
        Interlocked.Increment(ref _refused);
        var who = Who(rights, clientId);
        if (!SaidFirst($"{who} {Shown(topic)}"))
            return false;
        if (topics.IsOurs(topic))
            logger.ForeignPublishRefused(who, Shown(topic));
        else
            logger.PublishNotAllowed(who, Shown(topic));
        return false;
    }

    public MqttSubscribeReasonCode? WhyNotSubscribe(string clientId, string filter)
    {
        if (!_guests.TryGetValue(clientId, out var guest))
            return MqttSubscribeReasonCode.NotAuthorized;
        var allowed = filter.Length <= LongestTopic && guest.Rights.MaySubscribe(filter);
        if (allowed && guest.AddSubscription(filter, MostSubscriptions))
            return null;
        Interlocked.Increment(ref _refused);
        var who = Who(guest.Rights, clientId);
        if (SaidFirst(allowed ? $"{who} <- many" : $"{who} <- {Shown(filter)}"))
        {
            logger.SubscriptionNotAllowed(who, Shown(filter), allowed
                ? $"it has {MostSubscriptions} already"
                : guest.Rights.MayHear.Count == 0 ? "it may hear nothing" : $"it may hear {string.Join(", ", guest.Rights.MayHear)}");
        }

        return allowed ? MqttSubscribeReasonCode.QuotaExceeded : MqttSubscribeReasonCode.NotAuthorized;
    }

    public void Unsubscribed(string clientId, string filter)
    {
        if (_guests.TryGetValue(clientId, out var guest))
            guest.RemoveSubscription(filter);
    }

    /// <summary>Each thing refused is said once, and no more kinds of it than a log can bear.</summary>
    public bool SaidFirst(string what) => _said.Count < RefusalsRemembered && _said.TryAdd(what, 0);

    private static string Who(ClientRights? rights, string clientId) => rights?.Name is { } name ? $"{name} ({Shown(clientId)})" : Shown(clientId);

    private static string Shown(string text) =>
        string.Concat((text.Length <= LongestSaid ? text : text[..LongestSaid] + "…").Select(c => char.IsControl(c) ? '?' : c));

    private sealed class Guest(ClientRights rights)
    {
        private readonly HashSet<string> _subscriptions = new(StringComparer.Ordinal);

        public ClientRights Rights { get; } = rights;

        public bool AddSubscription(string filter, int most)
        {
            lock (_subscriptions)
                return _subscriptions.Contains(filter) || (_subscriptions.Count < most && _subscriptions.Add(filter));
        }

        public void RemoveSubscription(string filter)
        {
            lock (_subscriptions)
                _subscriptions.Remove(filter);
        }

        public void ForgetSubscriptions()
        {
            lock (_subscriptions)
                _subscriptions.Clear();
        }
    }
}
