// Post a request, again if the service is busy, and print its stacks: Stacks REQUEST [ADDRESS]
// .NET Framework 4.6.2 or newer, .NET 8, or Mono; nothing but what they bring.
using System;
using System.IO;
using System.Linq;
using System.Net.Http;
using System.Net.Http.Headers;
using System.Runtime.Serialization;
using System.Runtime.Serialization.Json;
using System.Threading;

[DataContract]
public class Block
{
    [DataMember(Name = "id")] public string Id { get; set; }
    [DataMember(Name = "nominal")] public string Nominal { get; set; }
}

[DataContract]
public class Stack
{
    [DataMember(Name = "target")] public string Target { get; set; }
    [DataMember(Name = "role")] public string Role { get; set; }
    [DataMember(Name = "nominal")] public string Nominal { get; set; }
    [DataMember(Name = "blocks")] public Block[] Blocks { get; set; }
    [DataMember(Name = "worst_case_error")] public string WorstCaseError { get; set; }
}

[DataContract]
public class Unmet
{
    [DataMember(Name = "target")] public string Target { get; set; }
    [DataMember(Name = "role")] public string Role { get; set; }
    [DataMember(Name = "reason")] public string Reason { get; set; }
}

// Members that a later version of the service adds are passed over.
[DataContract]
public class Answer
{
    [DataMember(Name = "unit")] public string Unit { get; set; }
    [DataMember(Name = "small_unit")] public string SmallUnit { get; set; }
    [DataMember(Name = "outcome")] public string Outcome { get; set; }
    [DataMember(Name = "stacks")] public Stack[] Stacks { get; set; }
    [DataMember(Name = "unmet")] public Unmet[] Unmet { get; set; }
}

public static class Program
{
    public static int Main(string[] args)
    {
        var address = args.Length > 1 ? args[1] : "http://127.0.0.1:8000";
        using (var client = new HttpClient { Timeout = TimeSpan.FromSeconds(60) })
        {
            var response = Post(client, address, File.ReadAllBytes(args[0]));
            if (!response.IsSuccessStatusCode)
            {
                // The service says what is wrong in the body, with a pointer for each fault.
                Console.Error.WriteLine(response.Content.ReadAsStringAsync().Result);
                return 1;
            }
            Show(Read(response.Content.ReadAsStreamAsync().Result));
            return 0;
        }
    }

    // Waits as long as a busy service says. Posting again is safe: nothing is stored.
    private static HttpResponseMessage Post(HttpClient client, string address, byte[] request)
    {
        for (var attempt = 1; ; attempt++)
        {
            var body = new ByteArrayContent(request);
            body.Headers.ContentType = new MediaTypeHeaderValue("application/json");
            var response = client.PostAsync(address + "/v1/stacks", body).Result;
            if ((int)response.StatusCode != 503 || attempt == 5) return response;
            var wait = response.Headers.RetryAfter;
            Thread.Sleep(wait != null && wait.Delta.HasValue ? wait.Delta.Value : TimeSpan.FromSeconds(1));
        }
    }

    private static Answer Read(Stream json)
    {
        return (Answer)new DataContractJsonSerializer(typeof(Answer)).ReadObject(json);
    }

    private static string Name(string target, string role)
    {
        return role == null ? target : target + " " + role;
    }

    private static void Show(Answer answer)
    {
        Console.WriteLine("outcome: " + answer.Outcome);
        foreach (var stack in answer.Stacks)
        {
            var blocks = string.Join(" + ", stack.Blocks.Select(block => block.Nominal));
            Console.WriteLine("{0}: {1} = {2} {3}, within {4} {5}",
                Name(stack.Target, stack.Role), blocks, stack.Nominal, answer.Unit, stack.WorstCaseError, answer.SmallUnit);
        }
        foreach (var unmet in answer.Unmet)
        {
            Console.WriteLine("{0}: no stack, {1}", Name(unmet.Target, unmet.Role),
                unmet.Reason.Replace('_', ' '));
        }
    }
}
